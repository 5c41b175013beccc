"""The report stands alone: valid HTML, nothing from outside, no script, sections as the data allow."""

import base64
import hashlib
import itertools
import json
import re

import html5lib
import pytest
from click.testing import CliRunner
from report_examples import EXAMPLES

from shaftwright.cli.main import cli
from shaftwright.render.page import report_html
from shaftwright.render.pictures.figure import DARK_PALETTE, PALETTE, css

pytestmark = pytest.mark.slow

NAMES = ["full", "stock", "rig"]


def tree(page):
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)


@pytest.mark.parametrize("name", NAMES)
def test_page_is_valid_html_with_one_of_each_id(pages, name):
    root = tree(pages[name])
    ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
    assert len(ids) == len(set(ids))
    for element in root.iter():
        for key in ("aria-labelledby", "href"):
            for target in element.attrib.get(key, "").split():
                assert target.lstrip("#") in ids


@pytest.mark.parametrize("name", NAMES)
def test_nothing_from_outside_and_no_script(pages, name):
    page = pages[name]
    assert not re.search(r"<(script|iframe|object|embed|link|img|form|base)\b", page)
    assert not re.search(r"\son\w+=|javascript:|@import|\ssrc=", page)
    assert not re.search(r"""\sstyle=""", page)
    urls = set(re.findall(r"""https?://[^\s"'<)]+""", page))
    assert urls <= {"http://www.w3.org/2000/svg"}
    assert not re.search(r"url\((?!#)", page)


def test_content_policy_allows_this_one_style_sheet(pages):
    """The hash is that of the text between the style tags, as CSP level 3 asks."""
    page = pages["full"]
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert f"'sha256-{digest}'" in policy.replace("&#39;", "'")
    assert "unsafe" not in policy
    assert style.startswith(css())


@pytest.mark.parametrize("name", NAMES)
def test_headings_landmarks_and_texts_for_who_does_not_see(pages, name):
    root = tree(pages[name])
    levels = [int(e.tag[1]) for e in root.iter() if re.fullmatch(r"h[1-6]", str(e.tag))]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in itertools.pairwise(levels))
    for landmark in ("header", "nav", "main", "footer"):
        assert len(list(root.iter(landmark))) == 1
    assert root.attrib["lang"] == "en"
    svg = [e for e in root.iter() if str(e.tag).endswith("svg")]
    assert svg
    for picture in svg:
        assert picture.attrib["role"] == "img"
        assert len([c for c in picture if str(c.tag).endswith(("title", "desc"))]) == 2
    for table in root.iter("table"):
        assert table.find("caption") is not None


def test_sections_come_with_their_data(pages):
    ids = {n: set(re.findall(r' id="([a-z-]+)"', page)) for n, page in pages.items()}
    always = {"spine", "where", "narrow", "rules", "card", "cautions", "map", "band", "ladder"}
    for found in ids.values():
        assert always <= found
    of_shots = {"shots", "bare-shafts", "target"}
    assert {"builds", "list"} | of_shots <= ids["full"]
    assert {"builds", "list"} <= ids["stock"]
    assert not of_shots & ids["stock"]
    assert not {"builds", "list"} & ids["rig"]
    assert not of_shots & ids["rig"]


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_next_thing_comes_first_with_why_then_and_if_not(reports, pages, name):
    root, now = tree(pages[name]), reports[name].question.plan.next
    assert "".join(next(root.iter("h1")).itertext()) == now.do
    assert pages[name].index("<h1") < pages[name].index("<h2")
    words = " ".join("".join(next(root.iter("header")).itertext()).split())
    places = [
        words.index(" ".join(part.split())) for part in (now.do, now.why, now.then, now.if_not, *now.cautions)
    ]  # fmt: skip
    assert places == sorted(places)


def test_every_arrow_shot_is_in_the_table_with_its_reading(reports, pages):
    shot = reports["full"].question.plan.shot
    (table,) = next(e for e in tree(pages["full"]).iter("section") if e.get("id") == "shots").iter(
        "tbody"
    )
    rows = [[" ".join("".join(cell.itertext()).split()) for cell in row] for row in table]
    assert len(rows) == len(shot) > 1
    for row, one in zip(rows, shot, strict=True):
        assert row[0].startswith(f"{one.shaft}, ")
        assert row[1:2] + row[3:] == [str(one.groups), one.reads, one.standing]
        side = None if one.offset_in is None else "right" if one.offset_in > 0 else "left"
        assert (
            row[2] in ("-", "level") if side is None else row[2] == "level" or row[2].endswith(side)
        )


def test_card_is_on_the_page_with_what_is_missing(reports, pages):
    for name in NAMES:
        words = " ".join("".join(tree(pages[name]).itertext()).split())
        for line in reports[name].card.fields.values():
            assert line.value in words
        for missing in reports[name].card.missing:
            assert missing in words
    assert reports["full"].card.one is not None


def test_every_caution_due_is_on_the_page(reports, pages):
    for name in NAMES:
        words = " ".join("".join(tree(pages[name]).itertext()).split())
        for caution in reports[name].choice.cautions:
            assert caution.text in words


def test_listed_builds_have_their_reasons_and_the_trace_is_whole(reports, pages):
    words = " ".join("".join(tree(pages["full"]).itertext()).split())
    for build in reports["full"].choice.builds:
        assert build.shaft in words
        for reason in build.reasons:
            assert reason in words
    for silent in reports["full"].choice.trace["silent"]:
        assert silent["found"] in words


def test_no_stiffness_of_a_build_in_pounds(reports, pages):
    """No two pound figures to be made equal: a carbon shaft's pounds are nowhere on the page."""
    for build in reports["stock"].choice.listed:
        if build.wood_lb is None:
            assert f"{31499.2 / build.spine_mils:.1f} lb" not in pages["stock"]


@pytest.mark.slow
def test_same_report_same_page(reports, pages):
    assert report_html(reports["full"]) == pages["full"]
    assert "2026-05-03" in pages["full"]


def contrast(one, other):
    """Contrast ratio of two colours, WCAG 2.1, 1.4.3."""

    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_helper_on_the_ends_of_the_scale_wcag_2_1():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("palette", [PALETTE, DARK_PALETTE], ids=["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "muted", "mark_1"])
def test_text_has_contrast_wcag_2_1(palette, role):
    assert contrast(palette[role], palette["paper"]) >= 4.5


def test_json_is_put_together_from_the_commands(reports):
    told = reports["full"]
    document = told.to_dict()
    assert document["format"] == 2
    assert document["choose"] == told.choice.to_dict()
    assert document["card"] == told.card.to_dict()
    assert document["bareshaft"]["causes"]
    assert document["shop"]["list"]
    plan = told.question.plan.to_dict()
    for one in (document, document["choose"], document["card"], document["shop"]):
        assert (one["next"], one["shot"]) == (plan["next"], plan["shot"])


@pytest.mark.slow
def test_command_writes_the_page_and_nothing_else(tmp_path, pages):
    target = tmp_path / "page.html"
    done = CliRunner().invoke(
        cli,
        [
            "report",
            str(EXAMPLES / "long_fen/rig.yaml"),
            "--html",
            str(target),
            "--date",
            "2026-05-03",
        ],
    )
    assert done.exit_code == 0, done.output
    assert target.read_text(encoding="utf-8") == pages["rig"]
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_command_prints_one_json_document_with_the_bow_s_next_thing():
    bow = str(EXAMPLES / "long_fen")
    done = CliRunner().invoke(cli, ["report", bow, "--json"])
    assert done.exit_code == 0, done.output
    found = json.loads(done.output)
    now = json.loads(CliRunner().invoke(cli, ["next", bow, "--json"]).output)
    assert (found["format"], found["next"], found["shot"]) == (2, now["next"], now["shot"])


def test_command_wants_somewhere_to_write():
    done = CliRunner().invoke(cli, ["report", str(EXAMPLES / "long_fen/rig.yaml")])
    assert done.exit_code == 2
    assert "--html" in done.output


@pytest.mark.slow
def test_folder_that_is_not_there_is_one_line(tmp_path):
    done = CliRunner().invoke(
        cli,
        ["report", str(EXAMPLES / "long_fen/rig.yaml"), "--html", str(tmp_path / "no" / "p.html")],
    )
    assert done.exit_code == 2
    assert "no such file" in done.output


@pytest.mark.slow
def test_choose_plot_writes_a_picture_and_names_what_is_allowed(tmp_path):
    rig = str(EXAMPLES / "long_fen/rig.yaml")
    for picture in ("map", "ladder", "band"):
        target = tmp_path / f"{picture}.svg"
        done = CliRunner().invoke(cli, ["choose", rig, "--plot", str(target), "--picture", picture])
        assert done.exit_code == 0, done.output
        assert f'id="{picture}"' in target.read_text(encoding="utf-8")
    done = CliRunner().invoke(cli, ["choose", rig, "--plot", str(tmp_path / "x.gif")])
    assert done.exit_code == 2
    assert ".svg, .png, .pdf" in done.output
