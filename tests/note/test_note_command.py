"""`note` into a notebook file, by arguments, exit code and output."""

import datetime as dt

import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli
from shaftwright.files.notebook import load_notebook
from shaftwright.records.notebook import RigState
from shaftwright.records.rig import Plunger

STOCK = "examples/heron_marsh/stock.csv"
NUMBERS = ["--spine", "500", "--length", "29 1/2 in", "--front", "200"]
KINDS = (
    "bareshaft",
    "broadhead",
    "chrono",
    "sound",
    "brace",
    "weigh",
    "change",
    "dozen",
    "have",
    "undo",
)


def run(*args):
    return CliRunner().invoke(cli, [str(a) for a in args])


def note(path, kind, *args):
    return run("note", path, kind, *args)


@pytest.mark.parametrize(("kind", "args"), [
    ("bareshaft", [*NUMBERS, "--distance", "12 yd", "--reads", "slightly_stiff", "--nock-side", "right"]),
    ("broadhead", [*NUMBERS, "--distance", "20 yd", "--together"]),
    ("broadhead", [*NUMBERS, "--distance", "20 yd", "--hit", "1,2", "--fletched", "0,0"]),
    ("chrono", ["--speed", "171 fps", "--arrow-mass", "505 gr", "--string", "A", "--stringing", "1"]),
    ("sound", ["--level", "84.2 dB", "--weighting", "A", "--response", "max", "--background", "55 dB"]),
    ("brace", ["--brace", "7 3/8 in", "--shots-on", "60", "--twists", "20"]),
    ("weigh", ["--item", "arrow 3", "--mass", "503.5 gr"]),
    ("weigh", ["--item", "MARSH-500", "--spine-mils", "497"]),
    ("change", ["--what", "limbs", "--note", "lighter set", "--draw-weight", "47 lb", "--limbs-id", "b"]),
])  # fmt: skip
def test_note_writes_what_reads_back(tmp_path, kind, args):
    path = tmp_path / "n.yaml"
    result = note(path, kind, *args, "--date", "2026-05-31", "--remark", "windy: 'left'")
    assert result.exit_code == 0, result.output
    book = load_notebook(path)
    assert book.entries[0].kind == kind
    assert book.entries[0].remark == "windy: 'left'"
    assert book.faults == ()


def test_note_echoes_the_word_in_the_archers_terms(tmp_path):
    result = note(tmp_path / "n.yaml", "bareshaft", *NUMBERS, "--distance", "20 yd", "--reads", "stiff",
                  "--rig", "examples/reed_lark/rig.yaml")  # fmt: skip
    assert "stiff: tail left, lands right." in result.output


@pytest.mark.parametrize(("args", "word"), [
    (["bareshaft", *NUMBERS, "--distance", "20 yd"], "bare shots"),
    (["bareshaft", *NUMBERS, "--distance", "20 parsecs", "--reads", "stiff"], "distance"),
    (["bareshaft", *NUMBERS, "--distance", "20 yd", "--bare", "1"], "--bare"),
    (["bareshaft", *NUMBERS, "--distance", "20 yd", "--bare", "1,2:sideways"], "sideways"),
    (["chrono", "--speed", "nan"], "speed"),
    (["chrono"], "missing"),
    (["brace", "--brace", "70 in"], "brace"),
    (["bareshaft", *NUMBERS, "--distance", "20 yd", "--reads", "stif"], "reads"),
])  # fmt: skip
def test_a_bad_note_leaves_the_notebook_alone(tmp_path, args, word):
    path = tmp_path / "n.yaml"
    path.write_text("- {kind: brace, brace: 7 1/2 in}\n")
    result = note(path, *args)
    assert result.exit_code == 2
    assert word in result.stderr
    assert path.read_text() == "- {kind: brace, brace: 7 1/2 in}\n"


@pytest.mark.parametrize("text", [
    "format: 1\nrig: oak\n",
    "# my bow\n\nformat: 1\n",
    "{format: 1, rig: oak}\n",
    "kind: brace\nbrace: 7.5\n",
    "item,kind,mass_gr\nP125,point,125\n",
    "kind;item;mass_gr\npoint;P125;125\n",
    "--- \nformat: 1\n",
])  # fmt: skip
def test_a_file_that_is_no_notebook_is_never_written_into(tmp_path, text):
    path = tmp_path / "bow.yaml"
    path.write_text(text)
    result = note(path, "brace", "--brace", "7 1/2 in")
    assert result.exit_code == 2
    assert "no notebook" in result.stderr
    assert result.stderr.count("\n") == 1
    assert path.read_text() == text


@pytest.mark.parametrize(
    "text", ["", "\n", "# mine\n", "- {kind: brace, brace: 7.5}\n- {kind: bra"]
)
def test_an_empty_or_a_torn_notebook_is_still_written_into(tmp_path, text):
    path = tmp_path / "n.yaml"
    path.write_text(text)
    assert note(path, "brace", "--brace", "7 1/2 in").exit_code == 0
    assert path.read_text().startswith(text)
    assert path.read_text() != text


def test_a_chronographs_file_is_taken_whole_or_not_at_all(tmp_path):
    path, good = tmp_path / "n.yaml", tmp_path / "c.csv"
    good.write_text("Shot;Velocity;Mass\n1;171;505\n2;172.5 fps;32.7 g\n\n")
    map_ = ["--column", "speed=Velocity", "--column", "arrow_mass=Mass"]
    result = note(path, "chrono", "--csv", good, *map_, "--string", "A")
    assert result.exit_code == 0, result.output
    assert [(e.speed_fps, e.string) for e in load_notebook(path).entries] == [
        (171, "A"),
        (172.5, "A"),
    ]
    before = path.read_text()
    good.write_text("Shot;Velocity;Mass\n1;171;505\n2;fast;505\n3;9999;505\n")
    result = note(path, "chrono", "--csv", good, *map_)
    assert result.exit_code == 2
    assert "c.csv:3" in result.stderr
    assert "c.csv:4" in result.stderr
    assert path.read_text() == before
    result = note(path, "chrono", "--csv", good, "--column", "speed=Tempo")
    assert "Velocity" in result.stderr
    assert note(path, "chrono", "--csv", good).exit_code == 2


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("path", [[], ["n.yaml"], ["my-bow"]], ids=" ".join)
def test_help_of_every_kind_has_an_example_with_or_without_a_path(path, kind):
    result = run("note", *path, kind, "--help")
    assert result.exit_code == 0
    assert f"shaftwright note {kind}" in result.output


def test_what_is_no_kind_is_answered_with_the_kinds(tmp_path):
    for args, word in ((("bareshft",), "Did you mean bareshaft?"), ((tmp_path,), "One of: bareshaft"),
                       ((tmp_path, "wiegh"), "wiegh")):  # fmt: skip
        result = run("note", *args)
        assert result.exit_code == 2
        assert word in result.stderr
        assert result.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_mistyped_folder_does_not_become_a_notebook(tmp_path):
    result = run("note", tmp_path / "my-bwo", "brace", "--brace", "7 1/2 in")
    assert result.exit_code == 2
    assert "neither a bow's folder nor a notebook" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_date_is_today_unless_it_is_stated_or_unknown(tmp_path):
    path = tmp_path / "n.yaml"
    today = dt.date.today()
    for said in ([], ["--date", "yesterday"], ["--date", "2026-05-31"], ["--date", "unknown"]):
        assert note(path, "brace", "--brace", "7 1/2 in", *said).exit_code == 0
    dates = [entry.date for entry in load_notebook(path).entries]
    assert dates[0] in (today, dt.date.today())
    assert dates[1:] == [dates[0] - dt.timedelta(days=1), dt.date(2026, 5, 31), None]
    for said in ("0", "31.5.2026", "2026-02-30", "20260531"):
        result = note(path, "brace", "--brace", "7 1/2 in", "--date", said)
        assert result.exit_code == 2
        assert "--date" in result.stderr
    assert len(load_notebook(path).entries) == 4


def test_a_csv_without_dates_is_given_none(tmp_path):
    path, rows = tmp_path / "n.yaml", tmp_path / "c.csv"
    rows.write_text("speed,date\n171,2026-05-30\n172,\n")
    assert note(path, "chrono", "--csv", rows).exit_code == 0
    assert [e.date for e in load_notebook(path).entries] == [dt.date(2026, 5, 30), None]


def test_hits_in_words_and_in_numbers_are_one(tmp_path):
    path = tmp_path / "n.yaml"
    said = ["bareshaft", *NUMBERS, "--distance", "20 yd"]
    note(path, *said, "--fletched", "1/2r 1lo", "--bare", "3l 1h:right+slight")
    note(path, *said, "--fletched", "0.5,-1", "--bare", "-3,1:right+slight")
    one, other = load_notebook(path).entries
    assert one == other
    assert one.fletched == ((0.5, -1.0),)
    assert one.bare[0].at == (-3.0, 1.0)


def test_a_change_is_noted_with_its_new_values(tmp_path):
    path = tmp_path / "n.yaml"
    result = note(path, "change", "Nocking point", "--nocking-point", "7/16 in")
    assert result.exit_code == 0, result.output
    note(path, "change", "plunger", "--plunger-spring", "stiff", "--plunger-turns", "1",
         "--plunger-out", "1/16 in")  # fmt: skip
    note(path, "change", "new", "arm", "guard")
    note(path, "change", "--what", "limbs", "--draw-length", "28 in", "--release", "three_under",
         "--crawl", "1/2 in", "--tiller", "1/8 in", "--string-material", "polyester")  # fmt: skip
    nock, plunger, free, limbs = load_notebook(path).entries
    assert (nock.what, nock.rig_state.nocking_point_in) == ("nocking_point", 0.4375)
    assert plunger.rig_state.plunger == Plunger(spring="stiff", turns=1, out_in=0.0625)
    assert free.what == "new arm guard"
    assert limbs.rig_state == RigState(draw_length_in=28, release="three_under", crawl_in=0.5, tiller_in=0.125,
                                       string_material="polyester")  # fmt: skip
    assert note(path, "change").exit_code == 2
    assert note(path, "change", "plunger", "--plunger-spring", "bouncy").exit_code == 2
    assert len(load_notebook(path).entries) == 4


def test_a_dozen_and_what_is_in_hand_into_a_notebook_file(tmp_path):
    path = tmp_path / "n.yaml"
    assert note(path, "dozen", *NUMBERS, "--masses", "503, 504.5; 32.7 g 502").exit_code == 0
    assert note(path, "dozen", "6", *NUMBERS).exit_code == 0
    assert note(path, "have", "MARSH-500", "3", "--length", "32 in").exit_code == 0
    made, six, have = load_notebook(path).entries
    assert made.made == 4
    assert made.masses_gr == pytest.approx((503, 504.5, 32.7 / 0.06479891, 502))
    assert (six.made, six.masses_gr) == (6, ())
    assert (have.item, have.count, have.length_in) == ("MARSH-500", 3, 32)
    for args in (["dozen", "0", *NUMBERS], ["dozen", *NUMBERS, "--masses", "503 heavy"], ["dozen"],
                 ["have", "MARSH-500", "some"], ["have", "MARSH-500", "3", "--length", "3 in"]):  # fmt: skip
        result = note(path, *args)
        assert result.exit_code == 2, args
        assert "Traceback" not in result.stderr
    assert len(load_notebook(path).entries) == 3
    assert note(path, "have", "P125", "6", "I25", "12").exit_code == 0
    assert [(e.item, e.count) for e in load_notebook(path).entries[3:]] == [
        ("P125", 6),
        ("I25", 12),
    ]
    for args in (["have", "P125", "6", "I25"], ["have", "A", "1", "B", "1", "--length", "32 in"],
                 ["have", "A", "2 at"], ["have", "A", "2 at 3 in"],
                 ["have", "A", "2 at 30 in", "--length", "31 in"]):  # fmt: skip
        assert note(path, *args).exit_code == 2
    assert len(load_notebook(path).entries) == 5
    assert note(path, "have", "A", "1 at 30 1/2 in", "P125", "6", "A", "2 at 32 in").exit_code == 0
    told = [(e.item, e.count, e.length_in) for e in load_notebook(path).entries[-3:]]
    assert told == [("A", 1, 30.5), ("P125", 6, None), ("A", 2, 32)]


def test_a_named_stock_is_held_against_the_arrow(tmp_path):
    path = tmp_path / "n.yaml"
    arrow = [
        "bareshaft",
        "--point",
        "P175",
        "--insert",
        "I25",
        "--distance",
        "20 yd",
        "--reads",
        "stiff",
    ]
    for more, word in ((["--shaft", "MARSH-555", "--length", "30 in"], "MARSH-555"),
                       (["--shaft", "MARSH-500", "--length", "34 in"], "at most 32 in"),
                       (["--shaft", "P175", "--length", "30 in"], "is a point")):  # fmt: skip
        assert note(path, *arrow, *more).exit_code == 0
        result = note(path, *arrow, *more, "--stock", STOCK)
        assert result.exit_code == 2
        assert word in result.stderr
