"""`note` in a bow's folder: held against rig and stock, answered with what comes next."""

import csv
import datetime as dt
import json
import shlex
import shutil

import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.answers.plan.result import Next, Plan, Shot, set_as
from shaftwright.cli.main import cli
from shaftwright.files.notebook import load_notebook
from shaftwright.records.notebook import ENTRY, Change

pytestmark = pytest.mark.slow

ARROW = ["--shaft", "MARSH-500", "--length", "29 1/2 in", "--point", "P175", "--insert", "I25"]
SHOTS = [
    "--fletched",
    "1r",
    "--fletched",
    "1l 1h",
    "--fletched",
    "0",
    "--bare",
    "2r 1lo",
    "--bare",
    "3r",
]


def run(*args):
    result = CliRunner().invoke(cli, [str(a) for a in args])
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    lines = result.stdout.splitlines() if "--json" not in args else []
    long = [line for line in lines if len(line) > 80]
    assert all("noted" in line for line in long), long  # the name of a file is not broken
    return result


@pytest.fixture
def bow(tmp_path):
    return shutil.copytree("examples/heron_marsh", tmp_path / "bow")


def last(bow):
    return load_notebook(bow / "notebook.yaml").entries[-1]


def next_of(bow):
    return json.loads(run("next", bow, "--json").stdout)["next"]


def fixed(monkeypatch, stage="prove", kind="shoot", shot=(), **arrow):
    """A plan that says how many entries it has seen."""
    told = {"shaft": "MARSH-500", "length_in": 30.0, "point": "P145", "insert": "I25", "piece": 2,
            "distance_yd": 17.0, "bare": 2, "fletched": 3} | arrow  # fmt: skip

    def plan_of(scenario):
        return Plan(Next(stage, kind, f"Seen {len(scenario.entries)}.", "", **told), shot)

    monkeypatch.setattr("shaftwright.answers.plan.plan.plan_of", plan_of)


@pytest.mark.parametrize(
    "args",
    [
        ["bareshaft", *ARROW, "--distance", "20 yd", *SHOTS],
        ["broadhead", *ARROW, "--distance", "20 yd", "--together"],
        ["chrono", "--speed", "171 fps", "--arrow-mass", "435 gr"],
        ["sound", "--level", "84 dB"],
        ["brace", "--brace", "7 1/2 in", "--shots-on", "200"],
        ["weigh", "--item", "arrow 4", "--mass", "437 gr"],
        ["change", "plate", "--plate", "3/32 in"],
        ["dozen", "12", *ARROW],
        ["have", "MARSH-600", "2"],
        ["undo"],
    ],
    ids=lambda args: args[0],
)
@pytest.mark.slow
def test_every_kind_answers_with_the_new_next(bow, args):
    before = (bow / "notebook.yaml").read_text(encoding="utf-8")
    result = run("note", bow, *args)
    assert result.exit_code == 0, result.output
    assert (bow / "notebook.yaml").read_text(encoding="utf-8").startswith(before)
    shown = run("next", bow).stdout
    assert shown.splitlines()[0]
    # the whole of what `next` says, to the letter
    assert result.stdout.endswith("\n\n" + shown)


def test_nothing_named_is_the_folder_one_stands_in(bow, monkeypatch):
    monkeypatch.chdir(bow)
    (bow / "notebook.yaml").unlink()
    result = run("note", "brace", "--brace", "7 1/2 in")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("notebook.yaml:1: 1 entry noted\n")
    assert last(bow).brace_in == 7.5


def test_a_folder_that_is_no_bow_is_left_as_it_is(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for path in ([], [tmp_path]):
        result = run("note", *path, "brace", "--brace", "7 1/2 in")
        assert result.exit_code == 2
        assert "rig.yaml" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_arrow_that_next_names_is_taken_at_its_distance(bow, monkeypatch):
    fixed(monkeypatch)
    seen = len(load_notebook(bow / "notebook.yaml").entries)
    result = run("note", bow, "bareshaft", *SHOTS)
    assert result.exit_code == 0, result.output
    entry = last(bow)
    assert (entry.build.shaft, entry.build.length_in) == ("MARSH-500", 30)
    assert (entry.build.point, entry.build.insert, entry.piece) == ("P145", "I25", 2)
    assert entry.distance_yd == 17
    assert entry.date in (dt.date.today(), dt.date.today() - dt.timedelta(days=1))
    # what was filled in is shown, and the plan has seen one more
    assert "MARSH-500, 30 in, P145, I25, the second one, at 17 yd" in result.stdout
    assert f"Seen {seen + 1}." in result.stdout
    run("note", bow, "bareshaft", *SHOTS, "--distance", "12 yd", "--piece", "3")
    assert (last(bow).distance_yd, last(bow).piece) == (12, 3)


def test_the_arrow_keeps_the_parts_it_was_noted_with(bow, monkeypatch):
    fixed(monkeypatch, length_in=29.5, point="P175", piece=None)
    run("note", bow, "bareshaft", *SHOTS)
    assert (last(bow).build.nock, last(bow).build.fletching) == ("N246", "F3x4")
    assert last(bow).piece is None


def test_a_broadhead_that_next_names_is_noted_as_one(bow, monkeypatch):
    fixed(monkeypatch, kind="broadheads", point="B175", piece=None, length_in=29.5)
    assert run("note", bow, "broadhead", "--together").exit_code == 0
    assert (last(bow).build.broadhead, last(bow).build.point) == ("B175", None)


def test_where_next_names_no_arrow_one_is_asked_for(bow, monkeypatch):
    fixed(monkeypatch, kind="set_up", shaft=None)
    before = (bow / "notebook.yaml").read_text()
    result = run("note", bow, "bareshaft", *SHOTS)
    assert result.exit_code == 2
    assert "--shaft" in result.stderr
    assert (bow / "notebook.yaml").read_text() == before


@pytest.mark.parametrize(
    ("arrow", "word"),
    [
        (["--shaft", "MARSH-500", "--length", "34 in"], "at most 32 in"),
        (["--shaft", "MARSH-505", "--length", "29 in"], "did you mean MARSH-500"),
        (["--shaft", "N246", "--length", "29 in"], "is a nock"),
        (["--shaft", "MARSH-500", "--length", "29 in", "--point", "P999"], "P999"),
        # shot at 29 1/2 in: a shaft does not grow
        (["--shaft", "MARSH-500", "--length", "31 in", "--point", "P175"], "--piece 2"),
        (["--shaft", "MARSH-500", "--point", "P175"], "--piece 2"),
        # without a point nobody shoots it
        (["--shaft", "MARSH-500", "--length", "29 in"], "point: is missing"),
        (["--length", "29 in"], "shaft"),
    ],
)
def test_what_cannot_be_is_refused(bow, arrow, word):
    before = (bow / "notebook.yaml").read_text()
    for kind, *more in (["bareshaft", "--reads", "stiff"], ["broadhead", "--together"]):
        result = run("note", bow, kind, *arrow, "--distance", "20 yd", *more)
        assert result.exit_code == 2
        assert word in result.stderr
        assert len(result.stderr.splitlines()) == 1
        assert (bow / "notebook.yaml").read_text() == before


def test_another_shaft_of_the_same_name_may_be_longer(bow):
    args = [
        "bareshaft",
        "--shaft",
        "MARSH-500",
        "--length",
        "31 in",
        "--distance",
        "20 yd",
        "--reads",
        "stiff",
        "--point",
        "P175",
    ]
    assert run("note", bow, *args).exit_code == 2
    assert run("note", bow, *args, "--piece", "2").exit_code == 0
    # now the second one is 31 in, and 31 1/2 in is a third
    args[4] = "31 1/2 in"
    assert "--piece 3" in run("note", bow, *args, "--piece", "2").stderr
    # from before it was cut it may have been longer
    assert run("note", bow, *args, "--piece", "2", "--date", "2026-01-01").exit_code == 0


def test_those_in_hand_are_as_long_as_the_stock_or_a_note_says(bow):
    stock = bow / "stock.csv"
    lines = stock.read_text(encoding="utf-8").splitlines()
    cut = [
        f"{lines[0]},in_hand_length_in",
        *(f"{row},{30 if row.startswith('MARSH-400,') else ''}" for row in lines[1:]),
    ]
    stock.write_text("\n".join(cut) + "\n", encoding="utf-8")
    args = ["bareshaft", "--shaft", "MARSH-400", "--length", "31 in", "--distance", "20 yd", "--reads", "stiff",
            "--piece", "2", "--point", "P175"]  # fmt: skip
    result = run("note", bow, *args)
    assert result.exit_code == 2
    assert "30 in" in result.stderr
    assert "shaftwright note have MARSH-400" in result.stderr
    assert run("note", bow, "have", "MARSH-400", "7", "--length", "32 in").exit_code == 0
    assert run("note", bow, *args).exit_code == 0


def test_one_more_than_are_in_hand_is_as_long_as_it_comes(bow):
    """All in hand are counted short; one bought since has a number of its own."""
    run("note", bow, "have", "MARSH-500", "2", "--length", "29 1/2 in")
    args = ["bareshaft", *ARROW[:2], *ARROW[4:], "--distance", "20 yd", "--reads", "stiff"]
    assert "add --piece 3" in run("note", bow, *args).stderr
    assert "MARSH-500 in hand, 29 1/2 in" in run("note", bow, *args, "--piece", "2").stderr
    assert run("note", bow, *args, "--piece", "3").exit_code == 0
    assert run("note", bow, *args, "--piece", "3", "--length", "33 in").exit_code == 2


def test_a_bow_without_a_stock_takes_an_arrow_by_numbers(bow):
    (bow / "stock.csv").unlink()
    shot = ["bareshaft", "--distance", "20 yd", "--reads", "stiff"]
    result = run("note", bow, *shot, *ARROW)
    assert result.exit_code == 2
    assert "is in no stock" in result.stderr
    numbers = ["--spine", "500", "--length", "29 in", "--front", "200"]
    assert run("note", bow, *shot, *numbers).exit_code == 0


@pytest.mark.parametrize(("hand", "stiff"), [("right", "right"), ("left", "left")])
@pytest.mark.slow
def test_a_word_against_the_tails_is_warned_of(bow, hand, stiff):
    # a stiff shaft's tail points away from the bow's window: right for a right-handed archer
    # (common practice, no source)
    weak = {"right": "left", "left": "right"}[stiff]
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text().replace("hand: right", f"hand: {hand}"))
    shot = ["bareshaft", *ARROW, "--distance", "20 yd"]
    for reads, side, warned in (
        ("weak", stiff, True), ("slightly_weak", stiff, True), ("stiff", weak, True), ("weak", weak, False),
        ("slightly_stiff", stiff, False), ("straight", stiff, False), ("weak", "high", False),
    ):  # fmt: skip
        result = run("note", bow, *shot, "--reads", reads, "--nock-side", side)
        assert result.exit_code == 0
        assert ("You say" in result.stderr) is warned, (reads, side)
    result = run("note", bow, *shot, "--reads", "weak", "--bare", f"3l:{stiff}", "--fletched", "0")
    assert "You say weak" in result.stderr
    assert len(load_notebook(bow / "notebook.yaml").entries) > 8


@pytest.mark.parametrize("said", ["a little weak", "A bit weak", "slightly weak", "slightly_weak"])
def test_a_little_is_slightly(bow, said):
    assert run("note", bow, "bareshaft", *ARROW, "--distance", "20", "--reads", said).exit_code == 0
    assert last(bow).reads == "slightly_weak"
    odd = run("note", bow, "bareshaft", *ARROW, "--distance", "20", "--reads", "a little odd")
    assert "'a little odd' is not allowed" in odd.stderr


def test_a_metric_bow_is_noted_in_metres_and_centimetres(bow):
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text() + "units: metric\n")
    shot = ["bareshaft", *ARROW, "--fletched", "0", "--bare", "5l 2.54h", "--bare", "-1 in, 10"]
    assert run("note", bow, *shot, "--distance", "18").exit_code == 0
    entry = last(bow)
    # the inch is 2.54 cm, the yard 0.9144 m (NIST SP 811)
    assert entry.distance_yd == pytest.approx(18 / 0.9144)
    assert entry.bare[0].at == pytest.approx((-5 / 2.54, 1), abs=1e-4)
    assert entry.bare[1].at == pytest.approx((-1, 10 / 2.54), abs=1e-4)
    assert run("note", bow, *shot, "--distance", "20 yd").exit_code == 0
    assert last(bow).distance_yd == 20
    shown = run("note", bow, "undo").stdout
    assert "at 18.3 m" in shown
    assert "5 left 2.5 high; 2.5 left 10 high (cm)" in shown


@pytest.mark.parametrize(
    ("said", "lb", "at", "told"),
    [
        ("42 lb", 42, 28, "42 lb is taken as told at 28 in"),
        ("42 lb at 29 in", 42, 29, "42 lb is taken as told at 29 in"),
        # the inch is 2.54 cm, the pound 4.448222 N (NIST SP 811)
        ("200 N @ 71.12 cm", 200 / 4.448222, 28, "45 lb is taken as told at 28 in"),
        ("42 lb at own draw", 42, "own_draw", "42 lb is taken as weighed at your own draw"),
    ],
)
def test_a_new_weight_is_told_as_the_rig_tells_it_and_the_answer_says_at_which_draw(
    bow, said, lb, at, told
):
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text().replace("{lb: 47, at: own_draw}", "{lb: 47, at: 28 in}"))
    out = " ".join(run("note", bow, "change", "limbs", "--draw-weight", said).stdout.split())
    assert told in out
    weight = last(bow).rig_state.draw_weight
    assert weight.lb == pytest.approx(lb)
    assert weight.at == (at if isinstance(at, str) else pytest.approx(at))


def test_a_date_on_the_other_side_of_a_change_or_still_to_come_is_remarked_on(bow):
    shot = ["bareshaft", *ARROW, "--distance", "20 yd", "--reads", "weak", "--date"]
    old = ["--limbs-id", "heron-1", "--draw-weight", "52 lb"]
    # the limbs were changed on 2026-04-11
    for said, told in (
        (["2026-03-20"], "before the change of limbs on 2026-04-11"),
        (["2026-03-20", *old], ""),
        (["2026-04-12"], ""),
        (["unknown"], ""),
        ([str(dt.date.today() + dt.timedelta(days=2))], "is still to come"),
    ):
        noted = run("note", bow, *shot, *said)
        assert noted.exit_code == 0
        assert told in noted.stderr
        assert bool(noted.stderr) == bool(told)
        run("note", bow, "undo")
    early = run("note", bow, "change", "plate", "--plate", "1/8 in", "--date", "2026-04-01").stderr
    assert "but noted after it: that counts for the bow as it was before the change" in early


def test_a_wooden_shaft_is_measured_in_pounds(bow):
    run("note", bow, "weigh", "--item", "shaft 1", "--wood-spine-lb", "41.5 lb")
    assert last(bow).wood_spine_lb == 41.5
    both = run("note", bow, "weigh", "--item", "a", "--wood-spine-lb", "41", "--spine-mils", "700")
    assert both.exit_code == 2
    assert "not both" in both.stderr


def test_shots_that_do_not_group_are_told_when_noted(bow):
    wide = ["--fletched", "0", "--fletched", "1r", "--bare", "40r", "--bare", "38l", "--bare", "2h"]
    shot = ["bareshaft", *ARROW, "--distance", "20 yd", *wide]
    told = run("note", bow, *shot).stdout
    assert told.splitlines()[1].startswith("! The bare shafts do not group")
    assert (
        "do not group"
        not in run("note", bow, "bareshaft", *ARROW, "--distance", "20 yd", *SHOTS).stdout.split(
            "\n"
        )[1]
    )


def test_a_weight_that_is_none_is_refused_with_what_can_be_written(bow):
    for said, allowed in (("42 lb at 99 in", "18 to 36 in"), ("42 kg at 28 in", "5 to 200 lb")):
        refused = run("note", bow, "change", "limbs", "--draw-weight", said)
        assert refused.exit_code == 2
        assert "rig_state.draw_weight" in refused.stderr
        assert allowed in refused.stderr


@pytest.mark.slow
def test_what_the_bow_was_set_to_is_noted_with_the_shots(bow):
    shot = ["bareshaft", *ARROW, "--distance", "20 yd", "--reads", "straight"]
    run("note", bow, *shot)
    state = last(bow).rig_state
    assert (state.draw_weight.lb, state.plate_in, state.limbs_id) == (47, 0.0625, "heron-2")
    # a change that the rig file does not know yet: the notebook's word counts
    run("note", bow, "change", "plate", "--plate", "1/8 in")
    run("note", bow, *shot)
    assert last(bow).rig_state.plate_in == 0.125
    assert last(bow).rig_state.draw_weight.lb == 47
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text().replace("thickness: 1/16 in", "thickness: 1/8 in"))
    run("note", bow, *shot)
    assert last(bow).rig_state.plate_in == 0.125
    run("note", bow, *shot, "--plate", "3/16 in")
    assert last(bow).rig_state.plate_in == 0.1875


def test_a_change_says_which_field_of_the_rig_to_change_and_changes_none(bow):
    rig = (bow / "rig.yaml").read_bytes()
    old = (bow / "before.yaml").read_bytes()
    result = run("note", bow, "change", "plate", "--plate", "3/32 in")
    assert "bow.plate.thickness: 3/32 in   (now 1/16 in)" in result.stdout
    result = run(
        "note", bow, "change", "draw weight", "--draw-weight", "40 lb", "--tiller", "1/4 in"
    )
    assert "bow.draw_weight: {lb: 40, at: own_draw}   (now {lb: 47, at: own_draw})" in result.stdout
    assert "bow.tiller: 1/4 in   (now 1/8 in)" in result.stdout
    assert (
        "Change in rig.yaml" not in run("note", bow, "change", "plate", "--plate", "1/16 in").stdout
    )
    assert "archer.release" in run("note", bow, "change", "release").stdout
    assert (bow / "rig.yaml").read_bytes() == rig
    assert (bow / "before.yaml").read_bytes() == old
    assert [e.what for e in load_notebook(bow / "notebook.yaml").entries if isinstance(e, Change)][-4:] == [
        "plate", "draw_weight", "plate", "release",
    ]  # fmt: skip


def test_other_limbs_keep_the_old_rig_once(bow):
    rig, before = bow / "rig.yaml", bow / "before.yaml"
    before.unlink()
    old = rig.read_bytes()
    run("note", bow, "change", "string", "--string", "B")
    assert not before.exists()
    result = run("note", bow, "change", "limbs", "--limbs-id", "heron-3", "--draw-weight", "52 lb")
    assert "kept as before.yaml" in result.stdout
    assert "bow.limbs_id: heron-3   (now heron-2)" in result.stdout
    assert before.read_bytes() == old
    rig.write_text(rig.read_text().replace("heron-2", "heron-3"))
    result = run("note", bow, "change", "new limbs", "--limbs-id", "heron-4")
    assert "before.yaml is there already" in result.stdout
    assert before.read_bytes() == old


def test_a_rig_file_changed_beforehand_is_no_old_rig(bow):
    rig, before = bow / "rig.yaml", bow / "before.yaml"
    before.unlink()
    rig.write_text(rig.read_text().replace("heron-2", "heron-3"))
    result = run("note", bow, "change", "limbs", "--limbs-id", "heron-3")
    assert result.exit_code == 0
    assert not before.exists()
    assert "Change in rig.yaml" not in result.stdout


def test_undo_strikes_out_one_entry_after_the_other(bow):
    notebook = bow / "notebook.yaml"
    kept = load_notebook(notebook).entries
    weigh = ["weigh", "--item", "arrow 9", "--mass", "440 gr"]
    run("note", bow, *weigh)
    run("note", bow, *weigh)
    run("note", bow, "brace", "--brace", "7 5/8 in")
    for left, shown in ((2, "brace 7 5/8 in"), (1, "arrow 9"), (0, "arrow 9")):
        before = notebook.read_text(encoding="utf-8")
        result = run("note", bow, "undo")
        assert result.exit_code == 0, result.output
        assert shown in result.stdout
        assert len(load_notebook(notebook).entries) == len(kept) + left
        # kept in the file, as it was
        assert notebook.read_text(encoding="utf-8").startswith(before)
    assert load_notebook(notebook).entries == kept
    assert [e.kind for e in load_notebook(notebook).withdrawn] == ["weigh", "weigh", "brace"]


def test_undo_of_nothing_says_so(bow, tmp_path):
    (bow / "notebook.yaml").unlink()
    for path in (bow, tmp_path / "n.yaml"):
        result = run("note", path, "undo")
        assert result.exit_code == 1
        assert "nothing is noted" in result.stderr
    assert not (bow / "notebook.yaml").exists()


def test_undo_of_a_notebook_file_alone(tmp_path):
    path = tmp_path / "n.yaml"
    run("note", path, "brace", "--brace", "7 1/2 in")
    assert run("note", path, "undo").exit_code == 0
    assert load_notebook(path).entries == ()


@pytest.mark.slow
def test_a_second_count_of_one_day_strikes_out_the_first(bow):
    def standing():
        entries = load_notebook(bow / "notebook.yaml").entries
        return [(e.item, e.count, e.length_in) for e in entries if e.kind == "have"]

    day = ["--date", "2026-05-30"]
    run("note", bow, "have", "MARSH-600", "2", *day)
    run("note", bow, "have", "P125", "4", *day)
    result = run("note", bow, "have", "MARSH-600", "3", *day)
    assert "struck out" in result.stdout
    assert standing() == [("P125", 4, None), ("MARSH-600", 3, None)]
    run("note", bow, "have", "MARSH-600", "5", "--date", "2026-05-31")
    assert standing()[1:] == [("MARSH-600", 3, None), ("MARSH-600", 5, None)]
    # two lengths are two counts of one day; without a length it is all of them
    run("note", bow, "have", "MARSH-600", "1", "--length", "30 in", *day)
    run("note", bow, "have", "MARSH-600", "2", "--length", "32 in", *day)
    assert standing()[2:] == [("MARSH-600", 1, 30), ("MARSH-600", 2, 32)]
    run("note", bow, "have", "MARSH-600", "4", *day)
    assert standing()[1:] == [("MARSH-600", 5, None), ("MARSH-600", 4, None)]
    result = run("note", bow, "undo")
    assert "note the one that holds" in result.stdout


@pytest.mark.parametrize(
    ("args", "word"),
    [
        (["MARSH-660", "2"], "did you mean MARSH-600"),
        (["marsh-600", "2"], "did you mean MARSH-600"),
        (["zebra", "2"], "add a row"),
        (["MARSH-600", "2", "--length", "33 in"], "comes at 32 in"),
        (["P125", "2", "--length", "30 in"], "is a point"),
        (["MARSH-600", "-2"], ""),
        (["MARSH-600", "two"], "count"),
    ],
)
def test_a_count_that_cannot_be_is_refused(bow, args, word):
    before = (bow / "notebook.yaml").read_text()
    result = run("note", bow, "have", *args)
    assert result.exit_code == 2
    assert word in result.stderr
    assert (bow / "notebook.yaml").read_text() == before


SHOT = Shot(
    "MARSH-400",
    29.5,
    "P175",
    "I100",
    275,
    "now",
    0,
    2,
    6,
    "straight",
    0.5,
    0.7,
    "flies straight",
    (),
)


@pytest.mark.parametrize(
    ("stage", "shot", "shaft"),
    [("dozen", (), "MARSH-500"), ("dozen", (SHOT,), "MARSH-500"), ("tune", (SHOT,), "MARSH-400")],
)
def test_a_dozen_is_of_the_arrow_that_leads(bow, monkeypatch, stage, shot, shaft):
    fixed(monkeypatch, stage, "make_dozen", shot, piece=None)
    result = run("note", bow, "dozen", "--masses", "441 442.5 440")
    assert result.exit_code == 0, result.output
    entry = last(bow)
    assert (entry.build.shaft, entry.made, entry.masses_gr) == (shaft, 3, (441, 442.5, 440))
    assert ("is early" in result.stderr) is (stage != "dozen")
    run("note", bow, "dozen")
    assert last(bow).made == 12
    run("note", bow, "dozen", "6", *ARROW)
    assert (last(bow).made, last(bow).build.point) == (6, "P175")


def test_a_dozen_without_anything_shot_needs_an_arrow(bow, monkeypatch):
    fixed(monkeypatch, "tune", "shoot", shaft=None)
    result = run("note", bow, "dozen")
    assert result.exit_code == 2
    assert "--shaft" in result.stderr


def test_what_is_noted_is_kept_though_no_next_step_can_be_named(bow, monkeypatch):
    from shaftwright.errors import NoAnswer

    def plan_of(scenario):
        raise NoAnswer("nothing suits")

    monkeypatch.setattr("shaftwright.answers.plan.plan.plan_of", plan_of)
    result = run("note", bow, "brace", "--brace", "7 5/8 in")
    assert result.exit_code == 0
    assert "nothing suits" in result.stderr
    assert last(bow).brace_in == 7.625


def test_a_rig_at_fault_is_named_before_anything_is_written(bow):
    before = (bow / "notebook.yaml").read_text()
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text().replace("hand: right", "hand: both"))
    result = run("note", bow, "bareshaft", *ARROW, "--distance", "20 yd", *SHOTS)
    assert result.exit_code == 2
    assert "rig.yaml" in result.stderr
    assert (bow / "notebook.yaml").read_text() == before


def test_a_torn_notebook_is_still_written_into(bow):
    notebook = bow / "notebook.yaml"
    for torn in ("- {kind: bra", "- {kind: brace, brace: 7.5}\n- {kind: bra"):
        notebook.write_text(torn)
        result = run("note", bow, "brace", "--brace", "7 5/8 in")
        assert result.exit_code == 0, result.output
        assert "skipped" in result.stderr
        assert notebook.read_text().startswith(torn)
        assert last(bow).brace_in == 7.625


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.slow
def test_who_notes_what_next_asks_for_comes_to_the_end(bow, hand):
    rig, notebook = bow / "rig.yaml", bow / "notebook.yaml"
    rig.write_text(rig.read_text().replace("hand: right", f"hand: {hand}"))
    notebook.write_text(notebook.read_text().replace("nock: right", f"nock: {hand}"))
    straight = ["--fletched", "0", "--fletched", "1r", "--fletched", "1l", "--bare", "0.5r", "--bare", "0.5l 1h",
                "--bare", "0", "--marks", "none", "--taped"]  # fmt: skip
    stages = []
    for day in range(1, 12):
        now = next_of(bow)
        stages.append(now["stage"])
        if now["stage"] == "done":
            break
        # the line that next prints, with what was seen
        words = shlex.split(now["note"])
        assert words[:2] == ["shaftwright", "note"]
        seen = {"bareshaft": straight, "broadhead": ["--together"]}.get(words[2], [])
        result = run("note", bow, *words[2:], *seen, "--date", f"2026-06-{day:02d}")
        assert result.exit_code == 0, result.output
    assert stages[-1] == "done", stages
    assert "dozen" in stages
    assert last(bow).kind == "dozen"
    # an end that does not fit any more starts it anew, and taking it back ends it again
    for _ in range(2):
        run("note", bow, "bareshaft", *ARROW, "--distance", "20 yd", "--fletched", "0", "--fletched", "1r",
            "--fletched", "1l", "--bare", "9r", "--bare", "9r 1h", "--bare", "8r", "--marks", "none")  # fmt: skip
    assert next_of(bow)["stage"] != "done"
    for _ in range(2):
        run("note", bow, "undo")
    assert next_of(bow)["stage"] == "done"


def test_any_entry_is_struck_out_by_its_line(bow, monkeypatch):
    notebook = bow / "notebook.yaml"
    before, text = load_notebook(notebook), notebook.read_text(encoding="utf-8")
    third = before.lines[2]
    result = run("note", bow, "--withdraw", str(third))
    assert result.exit_code == 0, result.output
    assert f"The entry, line {third}:" in result.stdout
    # as the page does it: an entry that names the other one, nothing erased
    assert notebook.read_text(encoding="utf-8").startswith(text)
    assert "kind: withdrawn" in notebook.read_text(encoding="utf-8")[len(text) :]
    assert load_notebook(notebook).entries == before.entries[:2] + before.entries[3:]
    for line, told in ((third, "struck out already"), (third + 1, "begins no entry; near it: ")):
        refused = run("note", bow, "--withdraw", str(line))
        assert refused.exit_code == 2
        assert told in refused.stderr
    monkeypatch.chdir(bow)
    assert run("note", "--withdraw", str(before.lines[0])).exit_code == 0
    assert load_notebook(notebook).entries == before.entries[1:2] + before.entries[3:]


@pytest.mark.parametrize("line", ["0", "-1", "x", "1e9"])
def test_a_line_to_strike_out_is_a_number(bow, line):
    before = (bow / "notebook.yaml").read_bytes()
    assert run("note", bow, "--withdraw", line).exit_code == 2
    assert (bow / "notebook.yaml").read_bytes() == before


def test_a_count_that_a_later_one_overrules_says_so(bow):
    """Entries may be noted late: an older count changes nothing, and one line says it."""
    told = "It changes nothing: MARSH-400 was counted later, on 2026-06-02; 4 MARSH-400 in hand."
    first = run("note", bow, "have", "MARSH-400", 4, "--date", "2026-06-02")
    assert "changes nothing" not in first.stdout
    older = run("note", bow, "have", "MARSH-400", 9, "--date", "2026-06-01")
    assert told in " ".join(older.stdout.split())
    newer = run("note", bow, "have", "MARSH-400", 3, "--date", "2026-06-03")
    assert "changes nothing" not in newer.stdout
    # of the same day the one noted last holds
    again = run("note", bow, "have", "MARSH-400", 5, "--date", "2026-06-03")
    assert "changes nothing" not in again.stdout
    late = run(
        "note", bow, "dozen", 12, "--date", "2026-05-20", *ARROW[:1], "MARSH-400", *ARROW[2:]
    )
    assert "MARSH-400 was counted later, on 2026-06-03; 5 MARSH-400" in " ".join(
        late.stdout.split()
    )


@pytest.mark.parametrize(
    ("args", "told"),
    [
        (["have", "MARSH-500", "6", "--length", "26 in"], "26 in is too short for this draw"),
        (["have", "MARSH-500", "2", "MARSH-600", "2 at 28 in"], "it must be at least 28 3/4 in"),
        (["bareshaft", *ARROW[:2], "--length", "24 in", *ARROW[4:], *SHOTS], "24 in is too short"),
        (["dozen", "12", *ARROW[:2], "--length", "24 in", *ARROW[4:]], "24 in is too short"),
        (["bareshaft", "--shaft", "SPRUCE-1132-45", "--point", "PW-516-100", *SHOTS],
         "PW-516-100 does not go on SPRUCE-1132-45: it is made for 0.312 in outside"),
    ],
)  # fmt: skip
def test_what_must_not_be_shot_is_kept_and_said_at_once(bow, args, told):
    far = ["--distance", "10 yd"] if args[0] == "bareshaft" else []
    before = len(load_notebook(bow / "notebook.yaml").entries)
    result = run("note", bow, *args, *far)
    assert result.exit_code == 0
    assert told in result.stderr
    assert result.stderr.count("note: ") == 1 + result.stderr.count("a dozen is early")
    assert len(load_notebook(bow / "notebook.yaml").entries) > before


def test_what_may_be_shot_is_noted_without_a_word(bow):
    for args in (["have", "MARSH-600", "6", "--length", "28 3/4 in"], ["have", "P125", "6"],
                 ["bareshaft", *ARROW, "--distance", "20 yd", *SHOTS]):  # fmt: skip
        assert run("note", bow, *args).stderr == ""


def test_a_dozen_of_more_than_are_in_hand_says_how_many_it_takes_as_bought(bow):
    told = "2 MARSH-500 were in hand: 10 more are taken as bought."
    assert told in run("note", bow, "dozen", "12", *ARROW).stdout
    run("note", bow, "undo")
    run("note", bow, "have", "MARSH-500", "12")
    assert "taken as bought" not in run("note", bow, "dozen", "12", *ARROW).stdout


def test_counts_of_two_lengths_are_one_count(bow):
    """Two short ones, and a third bought and shot that day: each count alone is not what is in hand."""
    day = ["--date", "2026-06-02"]
    run("note", bow, "have", "MARSH-500", "2 at 29 1/2 in", *day)
    run(
        "note",
        bow,
        "bareshaft",
        *ARROW[:2],
        *ARROW[4:],
        "--distance",
        "20 yd",
        *SHOTS,
        "--piece",
        "3",
        *day,
    )
    two = ["have", "MARSH-500", "2 at 29 1/2 in", "MARSH-500", "1 at 32 in"]
    assert "changes nothing" not in run("note", bow, *two, *day).stdout
    older = run("note", bow, *two[:2], "4 at 29 in", *two[3:], "--date", "2026-06-01").stdout
    assert (
        older.count("It changes nothing: MARSH-500 was counted later, on 2026-06-02; 3 MARSH-500")
        == 1
    )


def test_what_was_shot_since_is_in_hand_whatever_an_older_count_says(bow):
    run("note", bow, "have", "MARSH-500", 1, "--date", "2026-04-01")
    told = run("note", bow, "have", "MARSH-500", 0, "--date", "2026-04-02").stdout
    assert "It changes nothing:" in told
    assert "by what was shot or made since." in " ".join(told.split())


@pytest.mark.parametrize(
    ("what", "told"),
    [("arrowrest", "Taken as a setting of the same bow:"), ("bowstring", "Taken as a setting of the same bow:"),
     ("limbs", "Taken as another bow:"), ("new bow", "Taken as another bow:")],
)  # fmt: skip
def test_what_the_notebook_takes_a_change_for_is_said(bow, what, told):
    assert told in run("note", bow, "change", what).stdout


def test_undoing_a_change_of_limbs_takes_the_copy_of_the_rig_away_again(bow):
    (bow / "before.yaml").unlink()
    run("note", bow, "change", "limbs")
    assert (bow / "before.yaml").exists()
    undone = run("note", bow, "undo")
    assert undone.exit_code == 0
    assert "before.yaml is taken away again" in undone.stdout
    assert "Shoot the MARSH-500" in undone.stdout
    assert not (bow / "before.yaml").exists()


def test_a_rig_of_before_that_says_something_else_stays(bow):
    kept = (bow / "before.yaml").read_bytes()
    run("note", bow, "change", "limbs")
    assert "taken away" not in run("note", bow, "undo").stdout
    assert (bow / "before.yaml").read_bytes() == kept


@pytest.mark.parametrize(
    "step",
    [
        {"what": "plate", "plate": "1/8 in"},
        {"what": "plunger", "plunger": {"turns": "3"}},
        {"what": "plunger", "plunger": {"out": "1/16 in"}},
        {"what": "nocking_point", "nocking_point": "7/16 in"},
        {"what": "nocking_point"},
    ],
)
def test_the_line_of_a_setting_notes_what_the_plan_says_it_notes(bow, step):
    told = set_as(**step)
    (noted,) = map(ENTRY.validate_python, told["noted"])
    run("note", bow, *shlex.split(told["note"])[2:], "--date", "unknown")
    kept = last(bow)
    assert (kept.what, kept.rig_state) == (noted.what, noted.rig_state)


def test_the_line_of_a_test_kit_notes_what_the_plan_says_it_notes(bow):
    (bow / "notebook.yaml").unlink()
    with (bow / "stock.csv").open(encoding="utf-8") as stock:
        rows = [row | {"in_hand": ""} for row in csv.DictReader(stock)]
    with (bow / "stock.csv").open("w", encoding="utf-8") as stock:
        writer = csv.DictWriter(stock, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    now = shaftwright.open(bow).next().result.next
    assert now.kind == "buy"
    noted = [ENTRY.validate_python(entry) for entry in now.noted]
    run("note", bow, *shlex.split(now.note)[2:], "--date", "unknown")
    assert list(load_notebook(bow / "notebook.yaml").entries) == noted
