"""The page of one launch: the command's own words and pictures, no script, and nothing hidden."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest
import yaml
from web_kit import Reader, fill, open_page, stock_text

from shaftwright.answers.launch.fit import glance
from shaftwright.answers.launch.seen import story
from shaftwright.inference.resolve import resolve_build
from shaftwright.records.notebook import BareShaft
from shaftwright.web.answers import read_papers, work_out
from shaftwright.web.workbook import Workbook

PART = {"x-part": "1"}


def shown(client, address="/launch"):
    """The finished page: asked for as the page's script does, then as a reader does."""
    client.get(address, headers=PART)
    return client.get(address)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return fill(tmp_path_factory.mktemp("book"), notebook=True)


@pytest.fixture(scope="module")
def client(folder):
    return open_page(folder)[0]


@pytest.fixture(scope="module")
def answer(folder):
    return work_out(read_papers(Workbook(folder)))


@pytest.mark.slow
def test_the_map_leads_to_the_launch_of_the_build_looked_at(client, answer):
    here = client.get("/look?length=30&front=220").json()
    address = Reader(here["html"]).attributes
    (link,) = [v for tag, name, v in address if (tag, name) == ("a", "href") and "/launch" in v]
    text = Reader(shown(client, link).text).words
    assert "30 in" in text.replace("\u00a0", " ")
    assert "220 gr up front" in text
    build = answer.seen(0, 30.0, 220.0).build
    found = glance(answer.asked, build)
    for line in story(found.seen):
        assert line in text


@pytest.mark.slow
def test_what_the_page_holds_runs_nothing_and_needs_no_style_of_its_own(client):
    answer = shown(client)
    moving = client.get("/launch/moving", headers=PART).text
    # as the fold puts it into the page
    page = Reader(answer.text + moving)
    assert answer.status_code == 200
    assert not [tag for tag, _ in page.tags if tag in ("style", "iframe", "object", "image")]
    assert [v for tag, name, v in page.attributes if tag == "script" and name == "src"]
    assert all("src" in names for tag, names in page.tags if tag == "script")
    assert not [name for _, name, _ in page.attributes if name == "style" or name.startswith("on")]
    ids = Counter(value for _, name, value in page.attributes if name == "id")
    assert [i for i, n in ids.items() if n > 1] == []
    pictures = [names for tag, names in page.tags if tag == "svg"]
    assert len(pictures) == 2
    assert all("aria-labelledby" in names for names in pictures)
    assert "unsafe-inline" not in answer.headers["content-security-policy"]


@pytest.mark.slow
def test_motion_waits_behind_a_closed_fold_and_yields_to_the_reader_wcag_2_2_2(client):
    """WCAG 2.1, 2.2.2: what moves longer than five seconds can be stopped; here it never starts unasked."""
    text = shown(client).text
    assert "<animate " not in text
    fold = text[
        text.index('<details class="motion">') : text.index("</details>", text.index("motion"))
    ]
    (link,) = [v for _, name, v in Reader(fold).attributes if name == "data-load-open"]
    moving = client.get(link, headers=PART).text
    assert "<animate " in moving
    assert len(moving) < 80_000
    assert "<html" not in moving
    assert "<html" in client.get(link).text  # where no script runs
    css = client.get("/static/page.css").text
    assert re.search(r"prefers-reduced-motion: reduce\) \{ \.motion \{ display: none; \}", css)


@pytest.mark.slow
def test_the_noted_shafts_are_launched_as_they_were_shot(client, answer):
    seen, arrow = answer.noted()
    assert arrow.spec.shaft == answer.asked.plan.next.shaft
    assert arrow.known.taped
    whole = resolve_build(arrow.spec, answer.papers.stock)
    assert whole.fletching_gr[0] > 0
    assert seen.build.total_gr[0] == pytest.approx(whole.total_gr[0])
    notebook = answer.papers.notebook
    off = [
        e.model_copy(update={"taped": False}) if isinstance(e, BareShaft) else e
        for e in notebook.entries
    ]
    papers = replace(answer.papers, notebook=replace(notebook, entries=tuple(off)))
    plain, _ = work_out(papers).noted()
    assert plain.build.total_gr[0] == pytest.approx(whole.total_gr[0] - whole.fletching_gr[0])
    text = Reader(shown(client, "/launch?of=shots").text).words
    assert "as you shot it bare" in text
    assert "Back to the shots" in text
    assert "/launch?of=shots" in client.get("/shots/says", headers=PART).text


@pytest.mark.slow
def test_it_says_why_a_bow_cannot_be_launched(tmp_path):
    fill(tmp_path)
    rig = yaml.safe_load((tmp_path / "rig.yaml").read_text(encoding="utf-8"))
    rig["bow"]["window"] = {"cut": "none"}
    (tmp_path / "rig.yaml").write_text(yaml.safe_dump(rig), encoding="utf-8")
    answer = shown(open_page(tmp_path)[0])
    assert answer.status_code == 200
    assert "must know how far the plate stands" in Reader(answer.text).words


def test_without_a_rig_it_leads_to_the_start(tmp_path):
    answer = open_page(tmp_path)[0].get("/launch")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ['"><img src=x onerror=alert(1)>', "</title><script>x</script>", "$x_1$"]
)
def test_a_hostile_name_is_only_a_name(tmp_path, name):
    fill(tmp_path, stock=stock_text(name, name))
    page = Reader(shown(open_page(tmp_path)[0]).text)
    assert not [tag for tag, _ in page.tags if tag == "img"]
    assert all("src" in names for tag, names in page.tags if tag == "script")


@pytest.mark.slow
def test_strange_numbers_are_held_inside_the_map(client):
    for query in ("length=nan&front=1e99", "length=-5&front=x", "shaft=nobody", "of=nothing"):
        assert shown(client, f"/launch?{query}").status_code == 200
