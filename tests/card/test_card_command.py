"""`card` by arguments, exit code and output: what stands on it, what is missing, what changed."""

import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli

pytestmark = pytest.mark.slow

BOW = "examples/heron_marsh"
RIG = f"{BOW}/rig.yaml"
NOTEBOOK = "examples/heron_marsh/notebook.yaml"
STOCK = "examples/heron_marsh/stock.csv"
NAMED = [
    "--stock",
    STOCK,
    "--shaft",
    "MARSH-500",
    "--length",
    "29 1/2 in",
    "--point",
    "P175",
    "--insert",
    "I25",
]
NUMBERS = [
    "--spine",
    "500",
    "--length",
    "29 1/2 in",
    "--front",
    "200",
    "--tail",
    "17",
    "--gr-per-in",
    "7.4",
]
DAY = ["--date", "2026-05-10"]


def run(*args):
    return CliRunner().invoke(cli, ["card", *map(str, args)])


def document(*args):
    result = run(*args, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def broadhead(path, *, together="true", change=False, build="shaft: MARSH-500, length: 29 1/2 in, insert: I25",
              more="", date="2026-05-01", bare="straight"):  # fmt: skip
    shot = (
        f"- {{kind: bareshaft, build: {{{build}, point: P175}}, distance: 20 yd, reads: {bare}}}\n"
    )
    path.write_text(
        shot * 2 * bool(bare)
        + f"- kind: broadhead\n  date: {date}\n  build: {{{build}, broadhead: B175}}\n  distance: 20 yd\n"
        + (f"  together: {together}\n" if together else "") + more
        + ("- {kind: change, what: limbs}\n" if change else "")
    )  # fmt: skip
    return path


@pytest.mark.slow
def test_json_has_everything_to_rebuild_the_rig():
    told = document(RIG, "--stock", STOCK, "--notebook", NOTEBOOK, *DAY)
    assert told["format"] == 2
    assert told["date"] == "2026-05-10"
    fields = {key: item["value"] for key, item in told["fields"].items()}
    for key, value in {
        "bow.draw_weight": "47 lb at own draw", "bow.brace_height_in": "7 1/2 in", "bow.limbs_id": "heron-2",
        "bow.plate": "1/16 in, leather", "bow.nocking_point": "3/8 in above square, 2 locators",
        "string.strands": "14", "string.mass_gr": "120 gr", "arrow.shaft": "MARSH-500",
        "arrow.length_in": "29 1/2 in", "arrow.point": "P175",
    }.items():  # fmt: skip
        assert fields[key] == value
    assert "7 1/2 in, after 150 shots, 22 twists" in fields["measured.brace"]
    assert "10 of 435 gr at 172.9 fps" in fields["measured.speed"]
    assert told["band"]["low"] < told["band"]["mid"] < told["band"]["high"]
    assert told["band_at_build"]
    assert told["band"]["length_in"] == 29.5
    assert told["missing"] == []


def test_a_card_tells_what_is_measured_as_it_is_measured(tmp_path):
    """The inch is 2.54 cm, the pound 4.448222 N, the grain 64.79891 mg (NIST SP 811)."""
    rig = tmp_path / "rig.yaml"
    text = Path(RIG).read_text().replace("plate: {thickness: 1/16 in", "plate: {thickness: 2 mm")
    text = re.sub("draw_weight: {[^}]*}", "draw_weight: {lb: 200 N, at: 71 cm}", text)
    text = re.sub("draw_length: [^#\n]*", "draw_length: 71 cm ", text)
    text = re.sub("(?m)^  mass: [^#\n]*", "  mass: 8 g ", text)

    def told(units):
        rig.write_text(f"{text}units: {units}\n")
        fields = document(rig, *DAY)["fields"]
        names = ("archer.draw_length_in", "bow.draw_weight", "bow.plate", "string.mass_gr")
        return [fields[name]["value"] for name in names]

    assert told("metric") == ["71 cm", "45 lb at 71 cm", "2 mm, leather", "123.5 gr"]
    assert told("imperial") == [
        "27 15/16 in",
        "45 lb at 27 15/16 in",
        "5/64 in, leather",
        "123.5 gr",
    ]


def test_total_mass_is_the_sum_of_its_parts_by_hand():
    # 29.5 in of 7.4 gr/in, 200 gr at the front, 17 gr at the tail
    told = document(RIG, *NUMBERS, *DAY)
    assert told["build"]["total_gr"] == pytest.approx(29.5 * 7.4 + 200 + 17)
    assert told["build"]["gr_per_lb"] == pytest.approx(told["build"]["total_gr"] / 47)


def test_date_is_today_unless_told(monkeypatch):
    import datetime

    assert document(RIG)["date"] == datetime.datetime.now().date().isoformat()
    assert run(RIG, "--date", "yesterday").exit_code == 2


def test_text_says_not_proved_near_the_top_and_keeps_to_80_columns():
    lines = run(BOW, *DAY).output.splitlines()
    assert "Setup card: heron-marsh, for hunting, 2026-05-10" in lines
    assert any("Broadheads: NOT PROVED: 2026-03-08 at 20 yd" in line for line in lines[:8])
    assert "before the bow was changed" in " ".join(lines)
    assert max(map(len, lines)) <= 80


def test_never_shot_broadheads_are_not_proved():
    told = document(RIG, *DAY)
    assert told["broadheads_due"]
    assert not told["broadheads_proved"]
    assert "NOT PROVED, none shot yet" in run(RIG).output


def test_target_cards_do_not_ask_for_broadheads():
    assert "roadheads:" not in run(RIG, "--purpose", "target").output


def test_broadheads_that_land_together_are_proved_with_date_and_distance(tmp_path):
    told = document(RIG, *NAMED, "--notebook", broadhead(tmp_path / "n.yaml"), *DAY)
    assert told["broadheads_proved"]
    assert told["broadheads"][0]["distance_yd"] == 20
    text = run(RIG, *NAMED, "--notebook", tmp_path / "n.yaml", *DAY).output
    assert "Broadheads: PROVED, 2026-05-01 at 20 yd" in text


def test_hits_without_a_word_prove_as_next_takes_them(tmp_path):
    hits = "  broadhead: [[1, 1]]\n  fletched: [[0, 0]]\n"
    path = broadhead(tmp_path / "n.yaml", together=None, more=hits)
    told = document(RIG, *NAMED, "--notebook", path, *DAY)
    assert told["broadheads_proved"]
    assert told["broadheads"][0]["together"]


def test_several_tests_are_taken_together_as_next_takes_them(tmp_path):
    """4 in right, then 3 in left: as one centre they lie on the field points; 9 in apart twice do not."""
    path = tmp_path / "n.yaml"

    def tests(*rights):
        ends = []
        for day, x in enumerate(rights, 1):
            hits = f"  broadhead: [[{x}, 0]]\n  fletched: [[0, 0]]\n"
            broadhead(path, together=None, more=hits, date=f"2026-05-0{day}")
            ends.append(path.read_text())
        path.write_text("".join(ends))
        return document(RIG, *NAMED, "--notebook", path, *DAY)

    told = tests(4, -3)
    assert told["broadheads_proved"]
    assert [one["proved"] for one in told["broadheads"]] == [True, True]
    # the newest alone would prove it
    told = tests(9, 9, 0.5)
    assert not told["broadheads_proved"]
    assert told["broadheads"][0]["why"] == "all 3 tests taken together they landed apart"


def test_the_card_of_a_wooden_bow_speaks_in_pounds():
    """Wood is sold in pounds: what `choose` says of this bow."""
    said = " ".join(run("examples/long_fen").stdout.split())
    chosen = CliRunner().invoke(cli, ["choose", "examples/long_fen"]).stdout
    best, stiff, weak = re.search(r"cut to 28 in.*?(\d+) lb +(\d+) lb +(\d+) lb", chosen).groups()
    assert f"{best} lb ({stiff} to {weak} lb)" in said
    bare = CliRunner().invoke(cli, ["bareshaft", "examples/long_fen"]).stdout
    assert f"{best} lb ({stiff} to {weak} lb)" in bare


@pytest.mark.parametrize(
    ("made", "why"),
    [
        ({"together": "false"}, "apart"),
        ({"change": True}, "before the bow was changed"),
        ({"more": "  rig_state: {limbs_id: heron-1}\n"}, "before the bow was changed"),
        ({"build": "shaft: MARSH-400, length: 29 1/2 in, insert: I25"}, "another arrow"),
        ({"build": "shaft: MARSH-500, length: 30 in, insert: I25"}, "another arrow"),
        ({"build": "shaft: MARSH-500, length: 29 1/2 in"}, "another arrow"),
        ({"together": None, "more": "  broadhead: [[4, 0]]\n  fletched: [[0, 0]]\n"}, "apart"),
        ({"bare": "weak"}, "its bare shafts do not lie straight"),
        ({"bare": ""}, "no bare shaft of it was shot"),
    ],
)
@pytest.mark.slow
def test_what_does_not_prove_broadheads(tmp_path, made, why):
    told = document(RIG, *NAMED, "--notebook", broadhead(tmp_path / "n.yaml", **made), *DAY)
    assert not told["broadheads_proved"]
    assert why in told["broadheads"][0]["why"]


def test_what_is_missing_is_a_thing_to_do(tmp_path):
    told = document(RIG, "--set", "string.strands=null", "--set", "bow.plate=null",
                    "--set", "bow.brace_height=unknown")  # fmt: skip
    missing = " | ".join(told["missing"])
    for words in (
        "strands: count",
        "plate: measure",
        "brace height: measure",
        "shaft: shoot one and note it",
    ):
        assert words in missing
    assert "plunger" not in missing
    text = run(RIG, "--set", "string.strands=null", "--full").output
    assert "[ ] strands: count the strands" in text
    short = " ".join(run(RIG, "--set", "string.strands=null").output.split())
    assert re.search(r"Missing to set this bow up again: [^.]*strands", short)


def test_plunger_is_missing_only_where_the_rest_is_one():
    told = document(RIG, "--set", "bow.rest=plunger", "--set", "bow.plate=null")
    assert any(line.startswith("plunger") for line in told["missing"])
    assert not any(line.startswith("plate") for line in told["missing"])


def test_named_arrow_asks_for_nock_and_fletching_by_name():
    missing = document(RIG, *NAMED)["missing"]
    assert any(line.startswith("nock:") for line in missing)
    missing = document(RIG, *NAMED, "--nock", "N246", "--fletching", "F3x4")["missing"]
    assert not any(line.startswith(("nock:", "fletching:")) for line in missing)


def test_brace_that_moved_is_told(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text("- {kind: brace, brace: 7 1/4 in, shots_on: 200}\n")
    warnings = document(RIG, "--notebook", path)["warnings"]
    assert any("7 1/2 in in the rig file and was last read at 7 1/4 in" in w for w in warnings)


def test_without_its_row_in_a_stock_no_arrow_is_on_the_card():
    found = document(RIG, "--notebook", NOTEBOOK)
    assert found["next"]["kind"] == "describe"
    assert "arrow.shaft" not in found["fields"]
    assert found["build"] is None
    assert found["band_at_build"] is False


END = """- kind: bareshaft
  date: 2026-05-{day:02}
  build: {{{build}}}
  piece: {piece}
  distance: 20 yd
  fletched: [[0.5, 0], [-1, 1], [0.5, -1]]
  bare: [[{aside}, 0.5], [{aside}, -0.5], [{aside}, 0]]
  taped: true
  marks: none
"""
STRAIGHT = "shaft: MARSH-500, length: 29 1/2 in, point: P175, insert: I25"
STIFF = "shaft: MARSH-400, length: 29 1/2 in, point: P175, insert: I25"
HEADS = """- kind: broadhead
  date: 2026-05-06
  build: {shaft: MARSH-500, length: 29 1/2 in, broadhead: B175, insert: I25}
  distance: 20 yd
  together: true
"""
DOZEN = f"""- kind: dozen
  date: 2026-05-09
  build: {{{STRAIGHT}}}
  made: 12
  masses: [433 gr, 437 gr, 434.5 gr]
"""


def folder(tmp_path, *parts):
    for name in ("rig.yaml", "stock.csv"):
        shutil.copy(f"{BOW}/{name}", tmp_path / name)
    (tmp_path / "notebook.yaml").write_text("".join(parts))
    return tmp_path


def ends(count, build=STRAIGHT, aside=0.3, day=1, piece=1):
    return [END.format(day=day + n, build=build, piece=piece, aside=aside) for n in range(count)]


def test_the_arrow_is_the_plan_s_and_not_the_last_one_noted(tmp_path):
    told = ends(2)
    told += ends(1, STIFF, -6.0, day=5)
    for shots in (told, told[::-1]):
        found = document(folder(tmp_path, *shots), *DAY)
        assert found["next"]["stage"] == "prove"
        assert found["next"]["shaft"] == found["fields"]["arrow.shaft"]["value"] == "MARSH-500"
        assert found["build"]["length_in"] == 29.5
        assert found["dozen"] is None
        assert found["quiver_label"] is None


def test_an_arrow_to_buy_is_not_on_the_card_yet():
    found = document("examples/reed_lark")
    assert found["next"]["stage"] == "test_shafts"
    assert "arrow.shaft" not in found["fields"]


@pytest.fixture
def tuned(tmp_path):
    return folder(tmp_path, *ends(3), *ends(1, day=5, piece=2), HEADS, DOZEN)


def test_once_the_dozen_is_made_the_card_is_whole(tuned):
    found = document(tuned, *DAY)
    assert found["next"]["stage"] == "done"
    assert found["dozen"]["made"] == 12
    assert found["fields"]["arrow.dozen"]["value"] == "12 made, 2026-05-09"
    assert "433 to 437 gr" in found["fields"]["arrow.weighed"]["value"]
    assert not any(line.startswith("weighed") for line in found["missing"])
    # a 29.5 in shaft of 7.4 gr an inch, 175 + 25 gr in front, nock 9 and feathers 8 gr (the example's rows)
    whole = 29.5 * 7.4 + 175 + 25 + 9 + 8
    for part in ("500", "29 1/2 in", "25 gr", "175 gr", f"{whole:.0f} gr"):
        assert part in found["quiver_label"]


@pytest.mark.slow
def test_the_whole_card_has_its_label_to_cut_out_and_the_end_that_checks_it(tuned, tmp_path):
    page = tmp_path / "card.html"
    screen = " ".join(run(tuned, *DAY, "--html", page).output.split())
    found = document(tuned, *DAY)
    seen = Tags(page.read_text())
    for words in (found["quiver_label"], found["next"]["then"], found["next"]["if_not"], "12 made"):
        assert words in screen
        assert words in seen.text
    strip = re.search(r'<p class="strip">([^<]*)</p>', page.read_text())[1]
    assert found["quiver_label"] in strip
    assert 'class="strip"' not in html_of(folder(tmp_path, *ends(3)), page)


def html_of(bow, page):
    assert run(bow, *DAY, "--html", page, "--force").exit_code == 0
    return page.read_text()


@pytest.mark.parametrize("bow", ["heron_marsh", "long_fen", "reed_lark"])
@pytest.mark.slow
def test_it_opens_with_what_to_do_and_is_short(bow):
    at = f"examples/{bow}"
    short, full = run(at, *DAY).output, run(at, *DAY, "--full").output
    do = document(at)["next"]["do"].split()
    for text in (short, full):
        assert text.split()[: len(do)] == do
        assert max(map(len, text.splitlines())) <= 80
    assert len(short.splitlines()) <= 40
    for line in document(at)["fields"].values():
        assert line["value"].split()[-1] in full
    assert "Cautions" in full


def test_last_card_shows_what_changed_came_and_went(tmp_path):
    old = tmp_path / "old.json"
    old.write_text(run(RIG, *NUMBERS, *DAY, "--json").stdout)
    told = document(RIG, *NUMBERS, "--last", old, "--set", "string.strands=16", "--set", "bow.tiller=null",
                    "--set", "bow.limb_bolt_turns=2")  # fmt: skip
    found = {d["key"]: (d["was"], d["now"]) for d in told["differences"]}
    assert found["string.strands"] == ("14", "16")
    assert found["bow.tiller_in"] == ("1/8 in", "")
    assert found["bow.limb_bolt_turns"] == ("", "2 turns")
    assert told["last_date"] == "2026-05-10"
    text = run(RIG, *NUMBERS, "--last", old, "--set", "string.strands=16").output
    assert "Against the card of 2026-05-10:" in text
    assert "strands: 14 -> 16" in text
    assert "nothing has changed" in run(RIG, *NUMBERS, "--last", old).output


def test_a_card_of_the_format_before_is_read(tmp_path):
    saved = document(RIG, *NUMBERS, *DAY)
    assert saved.pop("format") == 2
    old = tmp_path / "old.json"
    old.write_text(json.dumps({"format": 1} | saved))
    assert "nothing has changed" in run(RIG, *NUMBERS, "--last", old).output


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "is not JSON"), ("[1]", "is no setup card"), ("{}", "is no setup card"), ("", "is not JSON"),
        ('{"format": 3, "fields": {}}', "not a format that is known"),
        ('{"format": 1, "fields": {"a": 3}}', "needs a label and a value"),
        ('{"format": 1, "fields": {"a": {"label": "x", "value": 3}}}', "needs a label and a value"),
        ("[" * 100_000, "nested too deep"),
        ('{"format": NaN, "fields": {}}', "not a format that is known"),
    ],
)  # fmt: skip
def test_a_bad_last_card_is_a_line(tmp_path, text, said):
    old = tmp_path / "old.json"
    old.write_text(text)
    result = run(RIG, "--last", old)
    assert result.exit_code == 2
    assert said in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert result.stdout == ""


def test_bad_usage_is_a_line():
    assert run("nowhere.yaml").exit_code == 2
    result = run(RIG, "--shaft", "MARSH-500")
    assert result.exit_code == 2
    assert "--stock" in result.stderr
    assert (
        run(
            RIG, *NAMED[:2], "--shaft", "MARSH-501", "--length", "30 in", "--point", "P175"
        ).exit_code
        == 2
    )
    assert run(RIG, "--html", "/nowhere/card.html").exit_code == 2


class Tags(HTMLParser):
    """Every tag, every attribute, all text."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.names, self.text = [], set(), ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.names |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.text += data


HOSTILE_RIG = """format: 1
rig: "<script>alert(1)</script> & 'q' \\" </title></style>"
archer: {hand: unknown, release: unknown, draw_length: 28 in}
bow:
  kind: unknown
  limbs: unknown
  draw_weight: {lb: 45, at: own_draw}
  brace_height: unknown
  window: {cut: unknown}
  rest: plunger
  limbs_id: "<img src=x onerror=alert(1)>"
string: {material: unknown, silencers: 15 gr}
"""


@pytest.fixture
def hostile(tmp_path):
    (tmp_path / "rig.yaml").write_text(HOSTILE_RIG)
    rows = [
        f'- {{kind: weigh, item: "arrow <i>{i}</i> of a long name \\u202e", mass: {400 + i} gr}}\n'
        for i in range(40)
    ]
    rows += ['- kind: broadhead\n  build: {shaft: "<svg onload=1>", length: 29 in, broadhead: "</dd><b>"}\n'
             "  distance: 20 yd\n  broadhead: [[1, 2]]\n  fletched: [[0, 0]]\n"] * 9  # fmt: skip
    rows += [
        f'- {{kind: chrono, speed: {170 - i} fps, arrow_mass: {400 + 5 * i} gr, string: "<u>"}}\n'
        for i in range(30)
    ]
    (tmp_path / "n.yaml").write_text("".join(rows))
    fields = {
        f"<x{i}>": {"label": f"</style><script>{i}", "value": "y" * 400 + "\x1b[2J"}
        for i in range(60)
    }
    (tmp_path / "old.json").write_text(json.dumps({"format": 1, "date": "<b>", "fields": fields}))
    return [tmp_path / "rig.yaml", "--purpose", "hunting", "--notebook", tmp_path / "n.yaml",
            "--last", tmp_path / "old.json", "--html", tmp_path / "card.html"]  # fmt: skip


def test_hostile_names_are_text_everywhere(hostile):
    result = run(*hostile)
    assert result.exit_code == 0, result.output
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "\x1b" not in result.stdout
    page = hostile[-1].read_text()
    seen = Tags(page)
    allowed = {"html", "head", "meta", "title", "style", "body", "main", "header", "h1", "h2", "p", "time", "ul",
               "li", "strong", "div", "section", "dl", "dt", "dd"}  # fmt: skip
    assert set(seen.tags) <= allowed
    assert not [
        name for name in seen.names if name.startswith("on") or name in ("src", "href", "style")
    ]
    assert "<script>alert(1)</script>" in seen.text
    assert "\x1b" not in page
    assert "\u202e" not in page


def test_page_needs_no_network_and_says_the_same(tmp_path):
    page = tmp_path / "card.html"
    result = run(RIG, "--stock", STOCK, "--notebook", NOTEBOOK, *DAY, "--html", page)
    assert result.exit_code == 0
    text = page.read_text()
    seen = Tags(text)
    assert "http://" not in text
    assert "https://" not in text
    assert "default-src &#39;none&#39;" in text
    for words in (
        "heron-marsh",
        "NOT PROVED",
        "MARSH-500",
        "3/8 in above square",
        "2026-05-10",
        "47 lb",
    ):
        assert words in seen.text
    assert seen.text.index("Bow") < seen.text.index("String")


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no chromium here")
@pytest.mark.parametrize("which", ["full", "bare"])
def test_prints_on_one_sheet_of_a4(tmp_path, which):
    page, paper = tmp_path / "card.html", tmp_path / "card.pdf"
    args = {
        "full": ["--stock", STOCK, "--notebook", NOTEBOOK],
        "bare": ["--set", "string.strands=null"],
    }[which]
    old = tmp_path / "old.json"
    old.write_text(run(RIG, "--set", "string.strands=16", *DAY, "--json").stdout)
    assert run(RIG, *args, *DAY, "--last", old, "--html", page).exit_code == 0
    subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={paper}", page.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    printed = Path(paper).read_bytes()
    assert printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") == 1
