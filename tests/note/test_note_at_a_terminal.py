"""The loop at a terminal: next, shoot, note, next."""

import json
import os
import shutil
import signal
import time

import pytest
from click.testing import CliRunner
from note_terminal import Terminal

from shaftwright.cli.main import cli
from shaftwright.files.notebook import load_notebook
from shaftwright.records.notebook import Have

#: a plan that names one arrow and says how many entries it has seen
FIXED = """
import shaftwright.answers.plan.plan as plan
from shaftwright.answers.plan.result import Next, Plan
def plan_of(scenario):
    return Plan(Next("{stage}", "shoot", f"Seen {{len(scenario.entries)}}.", "", shaft="MARSH-500", piece={piece},
                     length_in={length}, point="P175", insert="I25", bare=2, fletched=3, distance_yd=20.0), ())
plan.plan_of = plan_of
"""


def fixed(stage="prove", length=29.5, piece=None):
    return FIXED.format(stage=stage, length=length, piece=piece)


@pytest.fixture
def bow(tmp_path):
    return shutil.copytree("examples/heron_marsh", tmp_path / "bow")


def entries(bow):
    return load_notebook(bow / "notebook.yaml").entries


def answers(term, *pairs):
    """Every question answered; all that was shown, whose lines fit on a screen."""
    shown = "".join(term.answer(question, typed) for question, typed in pairs)
    rest, code = term.end()
    shown += rest
    # a fault is one line, however long
    assert all(len(line) <= 80 or line.startswith("note: ") for line in shown.splitlines()), shown
    return shown, code


HITS = [("fletched 1", "1r"), ("fletched 2", "1l 1h; 0"), ("fletched 4", ""), ("bare 1", "3r 1lo"),
        ("bare 2", "2,0.5"), ("bare 3", "")]  # fmt: skip
REST = [("Tails", ""), ("Marks", "none"), ("taped", "y"), ("Date", ""), ("Keep it?", "")]


@pytest.mark.slow
def test_the_whole_loop(bow):
    def next_now():
        told = CliRunner().invoke(cli, ["next", str(bow), "--json"])
        return json.loads(told.stdout)["next"]

    first = next_now()
    seen = len(entries(bow))
    with Terminal("note", "bareshaft", cwd=bow) as term:
        shown, code = answers(term, ("Arrow [1]", ""), ("Distance", ""), *HITS, *REST)
    assert code == 0, shown
    assert len(entries(bow)) == seen + 1
    entry = entries(bow)[-1]
    # what next named was shot
    assert (entry.build.shaft, entry.build.length_in) == (first["shaft"], first["length_in"])
    assert (entry.build.point, entry.distance_yd) == (first["point"], first["distance_yd"])
    assert entry.fletched == ((1, 0), (-1, 1), (0, 0))
    assert [shot.at for shot in entry.bare] == [(3, -1), (2, 0.5)]
    assert (entry.taped, entry.marks, entry.nock) == (True, "none", ())
    assert entry.rig_state.limbs_id == "heron-2"
    # it was shown before it was kept, and the new next is what `next` says now
    assert "fletched: 1 right; 1 left 1 high; centre (in)" in shown.partition("Keep it?")[0]
    then = next_now()
    assert then != first
    assert " ".join(then["do"].split()) in " ".join(shown.split())
    with Terminal("note", "undo", cwd=bow) as term:
        shown, code = answers(term, ("Strike it out?", ""))
    assert code == 0
    assert "bare: 3 right 1 low" in shown
    assert len(entries(bow)) == seen
    assert next_now() == first


@pytest.mark.slow
def test_what_is_mistyped_is_asked_again(bow):
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(
            term, ("Arrow [1]", "9"), ("Arrow [1]", "MARSH-550"), ("Arrow [1]", "1"),
            ("Distance", "far"), ("Distance", "300 yd"), ("Distance", "15"),
            ("fletched 1", "3x"), ("fletched 1", "3l 2l"), ("fletched 1", "3l 1h; 900r"), ("fletched 1", "3l"),
            ("fletched 2", ""), ("bare 1", "1r"), ("bare 2", ""), ("Tails", "sideways"),
            ("Tails", "left right high"), ("Tails", "right, high"), ("Marks", "somewhere"), ("Marks", "sh"),
            ("taped", "perhaps"), ("taped", "n"), ("Date", "31.5."), ("Date", "2026-05-31"), ("Keep it?", "y"),
        )  # fmt: skip
    assert code == 0, shown
    entry = entries(bow)[-1]
    assert (entry.distance_yd, entry.fletched, entry.nock) == (15, ((-3, 0),), ("right", "high"))
    assert (entry.marks, entry.taped, str(entry.date)) == ("shelf", False, "2026-05-31")
    for told in (
        "did you mean MARSH-500",
        "'3x' is not a hit",
        "left or right twice",
        "out of range",
    ):
        assert told in " ".join(shown.split()), told


@pytest.mark.slow
@pytest.mark.parametrize(
    ("word", "after"),
    [("straight", False), ("slightly stiff", True), ("weak", False), ("a bit weak", False)],
)
def test_a_word_instead_of_hits(bow, word, after):
    hits = (
        [("fletched 1", "0"), ("fletched 2", ""), ("bare 1", word)]
        if after
        else [("fletched 1", word)]
    )
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(term, ("Arrow", ""), ("Distance", ""), *hits, *REST)
    assert code == 0, shown
    entry = entries(bow)[-1]
    assert (entry.reads, entry.bare) == (word.replace("a bit", "slightly").replace(" ", "_"), ())
    assert "If not:" in shown


@pytest.mark.slow
def test_tails_alone_are_enough_and_nothing_at_all_is_not(bow):
    none = [("Arrow", ""), ("Distance", ""), ("fletched 1", ""), ("bare 1", "")]
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(
            term, *none, ("Tails", "none seen"), ("Tails", ""), ("Tails", "left"), *REST[1:]
        )
    assert code == 0, shown
    assert "leaves nothing to keep" in shown
    assert entries(bow)[-1].nock == ("left",)


@pytest.mark.slow
@pytest.mark.parametrize("how", ["no", "end of input", "interrupt"])
def test_what_is_not_kept_is_not_written(bow, how):
    before = (bow / "notebook.yaml").read_bytes()
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        asked = [("Arrow", ""), ("Distance", ""), ("fletched 1", "weak"), *REST[:-1]]
        if how == "no":
            shown, code = answers(term, *asked, ("Keep it?", "n"))
            assert code == 0
            assert "Nothing was noted." in shown
        else:
            for question, typed in asked:
                term.answer(question, typed)
            term.wait_for("Keep it?")
            term.wait_for(": ")
            if how == "interrupt":
                time.sleep(
                    0.5
                )  # one that comes while the prompt is being set up is not seen at once
                os.kill(term.run.pid, signal.SIGINT)
            else:
                os.write(term.fd, b"\x04")
            shown, code = term.end()
            assert code == 1
            assert "Traceback" not in shown
    assert (bow / "notebook.yaml").read_bytes() == before


@pytest.mark.slow
def test_another_arrow_by_its_parts(bow):
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(
            term, ("Arrow", "MARSH-600"), ("How long [32 in]", "31 1/2"), ("Point [P175]", "P1"),
            ("Point [P175]", "none"), ("Point [P175]", "P125"), ("Insert [I25]", "none"), ("Distance", ""),
            ("fletched 1", "weak"), *REST,
        )  # fmt: skip
    assert code == 0, shown
    build = entries(bow)[-1].build
    assert (build.shaft, build.length_in, build.point, build.insert) == (
        "MARSH-600",
        31.5,
        "P125",
        None,
    )
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(
            term, ("Arrow", "480"), ("How long", "29"), ("Up front", "200"), ("Distance", ""),
            ("fletched 1", "weak"), *REST,
        )  # fmt: skip
    assert code == 0, shown
    build = entries(bow)[-1].build
    assert (build.spine_mils, build.length_in, build.front_gr) == (480, 29, 200)


@pytest.mark.slow
def test_a_longer_shaft_is_another_one_or_is_refused(bow):
    asked = [("Arrow", ""), ("Distance", ""), ("fletched 1", "weak"), *REST[:-1]]
    before = (bow / "notebook.yaml").read_bytes()
    with Terminal("note", "bareshaft", cwd=bow, first=fixed(length=31.0)) as term:
        shown, code = answers(term, *asked, ("Is it another one, number 2?", ""))
    assert code == 2
    assert "no shaft grows" in " ".join(shown.split())
    assert (bow / "notebook.yaml").read_bytes() == before
    with Terminal("note", "bareshaft", cwd=bow, first=fixed(length=31.0)) as term:
        shown, code = answers(term, *asked, ("Is it another one, number 2?", "y"), ("Keep it?", ""))
    assert code == 0, shown
    assert entries(bow)[-1].piece == 2


@pytest.mark.slow
@pytest.mark.parametrize(("hand", "stiff"), [("right", "right"), ("left", "left")])
def test_a_word_against_the_tails_is_asked_about(bow, hand, stiff):
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text().replace("hand: right", f"hand: {hand}"))
    seen = len(entries(bow))
    asked = [
        ("Arrow", ""),
        ("Distance", ""),
        ("fletched 1", "slightly weak"),
        ("Tails", stiff),
        *REST[1:-1],
    ]
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(term, *asked, ("Is that right?", ""))
    assert code == 1
    assert (
        f"the tails pointed {stiff}: from a {hand}-handed bow that is the stiff side"
        in " ".join(shown.split())
    )
    assert len(entries(bow)) == seen
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(term, *asked, ("Is that right?", "y"), ("Keep it?", ""))
    assert code == 0, shown
    assert entries(bow)[-1].nock == (stiff,)


@pytest.mark.slow
def test_a_metric_archer_is_asked_in_metres_and_centimetres(bow):
    rig = bow / "rig.yaml"
    rig.write_text(rig.read_text() + "units: metric\n")
    with Terminal("note", "bareshaft", cwd=bow, first=fixed()) as term:
        shown, code = answers(
            term, ("Arrow", ""), ("Distance in metres [18.3 m]", ""), ("fletched 1", "0"), ("fletched 2", ""),
            ("bare 1", "10r 2.5lo"), ("bare 2", ""), *REST,
        )  # fmt: skip
    assert code == 0, shown
    assert "Hits in centimetres" in shown
    assert "bare: 10 right 2.5 low (cm)" in shown
    entry = entries(bow)[-1]
    assert entry.distance_yd == 20  # Enter keeps what next said, to the letter
    # the inch is 2.54 cm by definition
    assert entry.bare[0].at == pytest.approx((10 / 2.54, -2.5 / 2.54), abs=1e-4)


@pytest.mark.slow
def test_options_are_not_asked_for_again(bow):
    seen = len(entries(bow))
    with Terminal("note", "bareshaft", "--piece", "1", "--distance", "18 yd", "--marks", "none", "--taped",
                  cwd=bow, first=fixed()) as term:  # fmt: skip
        shown, code = answers(
            term,
            ("Arrow", ""),
            ("fletched 1", "stiff"),
            ("Tails", ""),
            ("Date", ""),
            ("Keep it?", ""),
        )
    assert code == 0, shown
    entry = entries(bow)[-1]
    assert (entry.piece, entry.distance_yd, entry.marks, entry.taped) == (1, 18, "none", True)
    # everything that was seen by options: nothing is asked
    with Terminal("note", "bareshaft", "--reads", "stiff", cwd=bow, first=fixed()) as term:
        shown, code = answers(term)
    assert code == 0, shown
    assert len(entries(bow)) == seen + 2


@pytest.mark.slow
def test_broadheads_and_a_dozen_are_asked_for_too(bow):
    with Terminal("note", "broadhead", cwd=bow, first=fixed("prove")) as term:
        shown, code = answers(
            term, ("Arrow", ""), ("Distance", ""), ("field point 1", ""), ("broadhead 1", ""),
            ("Do they land together?", ""), ("Date", ""), ("Keep it?", ""),
        )  # fmt: skip
    assert code == 0, shown
    assert entries(bow)[-1].together is True
    with Terminal("note", "broadhead", cwd=bow, first=fixed("prove")) as term:
        shown, code = answers(
            term, ("Arrow", ""), ("Distance", ""), ("field point 1", "0; 1r"), ("field point 3", ""),
            ("broadhead 1", "2l"), ("broadhead 2", ""), ("Date", ""), ("Keep it?", ""),
        )  # fmt: skip
    assert code == 0, shown
    assert (entries(bow)[-1].broadhead, entries(bow)[-1].together) == (((-2, 0),), None)
    with Terminal("note", "dozen", cwd=bow, first=fixed("dozen")) as term:
        shown, code = answers(
            term, ("Arrow", ""), ("How many are made [12]", "none"), ("How many are made [12]", "11"),
            ("weights in grains", "heavy"), ("weights in grains", "441 440.5"), ("Keep it?", ""),
        )  # fmt: skip
    assert code == 0, shown
    assert (entries(bow)[-1].made, entries(bow)[-1].masses_gr) == (11, (441, 440.5))


@pytest.mark.slow
def test_undo_asks_first(bow):
    before = (bow / "notebook.yaml").read_bytes()
    with Terminal("note", "undo", cwd=bow, first=fixed()) as term:
        shown, code = answers(term, ("Strike it out?", "n"))
    assert code == 0
    assert "Nothing was changed." in shown
    assert (bow / "notebook.yaml").read_bytes() == before


@pytest.mark.slow
def test_a_change_in_free_words_is_asked_about(bow):
    def change(*args, asked=()):
        with Terminal("note", "change", *args, cwd=bow, first=fixed()) as term:
            shown, code = answers(term, *asked)
        assert code == 0, shown
        return entries(bow)[-1]

    # words that are known are not asked about
    assert change("new limbs", "--limbs-id", "x").what == "new limbs"
    assert change("plate", "--plate", "1/8 in").what == "plate"
    question = "Does the bow want another arrow"
    assert change("waxed the cables", asked=[(question, "")]).what == "waxed the cables"
    found = change("new grip", asked=[(question, "y"), ("Which", "grip"), ("Which", "draw length")])
    assert (found.what, found.note) == ("draw_length", "new grip")
    found = change(
        "other serving",
        asked=[(question, "y"), ("Which", "string"), ("Of what", "polyester")],
    )
    assert (found.what, found.rig_state.string_material) == ("string", "polyester")


@pytest.mark.slow
def test_a_bow_just_begun_is_asked_for_its_first_arrow(bow):
    (bow / "notebook.yaml").unlink()
    with Terminal(
        "note", "bareshaft", cwd=bow, first=fixed().replace('shaft="MARSH-500"', "shaft=None")
    ) as term:
        shown, code = answers(
            term, ("Which shaft", "MARSH-400"), ("How long", ""), ("Point:", "P175"), ("Insert [none]", "I25"),
            ("Distance", ""), ("fletched 1", "weak"), *REST,
        )  # fmt: skip
    assert code == 0, shown
    assert [(e.build.shaft, e.build.length_in) for e in entries(bow)] == [("MARSH-400", 32)]


@pytest.mark.slow
def test_a_count_needs_no_question(bow):
    with Terminal("note", "have", "MARSH-600", "2", cwd=bow, first=fixed()) as term:
        shown, code = answers(term)
    assert code == 0, shown
    assert isinstance(entries(bow)[-1], Have)
