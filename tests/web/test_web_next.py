"""Every page opens with the one next thing of the commands, and has no command on it."""

from __future__ import annotations

import json
import re
import shutil

import pytest
from click.testing import CliRunner
from web_kit import EXAMPLES, Reader, open_page

import shaftwright.answers.scenario as asking
from shaftwright.cli.main import cli
from shaftwright.web.app import linked

PAGES = ("/", "/builds", "/rig", "/stock", "/shots", "/shots/says", "/list", "/files", "/next")
BOWS = ("heron_marsh", "long_fen", "reed_lark")


def copied(folder, bow):
    for name in ("rig.yaml", "stock.csv", "notebook.yaml", "before.yaml"):
        if (EXAMPLES / bow / name).exists():
            shutil.copy(EXAMPLES / bow / name, folder / name)
    return folder


def command(*args):
    done = CliRunner().invoke(cli, [*map(str, args), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def lines(text):
    """The paragraphs of a page's main part, in their order."""
    main = text[text.index("<main") :]
    found = re.findall(r"<(?:p|h1|h2|li)[^>]*>(.*?)</(?:p|h1|h2|li)>", main, re.DOTALL)
    return [Reader(one).words for one in found]


def without_commands(text):
    return str(linked({}, text).striptags())


def flat(text):
    return " ".join(text.split())


@pytest.mark.slow
@pytest.mark.parametrize("bow", BOWS)
def test_every_page_opens_with_what_the_command_says(tmp_path, bow):
    now = command("next", copied(tmp_path, bow))["next"]
    client, _ = open_page(tmp_path)
    client.get("/next", headers={"x-part": "1"})
    for path in PAGES:
        shown = lines(client.get(path).text)
        at = shown.index(flat(without_commands(now["do"])))
        assert at == 0 or path == "/shots", path  # at the butt the face comes first
        shown = shown[at:]
        coming = [without_commands(now[name]) for name in ("why", "then", "if_not")]
        cautions = [without_commands(one) for one in now["cautions"]]
        wanted = [flat(part) for part in (*coming, *cautions) if part]
        places = [next(i for i, line in enumerate(shown) if part in line) for part in wanted]
        assert places == sorted(places), path
        assert places[-1] <= len(wanted) + 1, path


@pytest.mark.slow
def test_a_stock_as_the_starter_wrote_it_is_called_the_sample(tmp_path):
    """What it says to buy is of invented rows until the shop's own stand there."""
    told = "The stock is the sample still: put your shop's rows there before you buy."
    starter = EXAMPLES.parent / "src" / "shaftwright" / "starter" / "stock.csv"
    shutil.copy(starter, copied(tmp_path, "heron_marsh") / "stock.csv")
    client, _ = open_page(tmp_path)
    client.get("/next", headers={"x-part": "1"})
    for path in ("/", "/list", "/stock"):
        assert told in lines(client.get(path).text)
    with (tmp_path / "stock.csv").open("a") as stock:
        stock.write("REED-500,shaft,carbon,500,,7.4,0.291,0.246,32,,9.00,1,0,,,,,,,\n")
    client.get("/next", headers={"x-part": "1"})
    assert told not in lines(client.get("/stock").text)


@pytest.mark.slow
def test_what_is_to_be_written_into_the_rig_is_one_tap_away(tmp_path):
    """A bow of which only the marked weight is known: the page names its form, not a file."""
    now = command("next", copied(tmp_path, "long_fen"))["next"]
    assert "rig.yaml: draw_weight: {lb: .., at: own_draw}" in now["do"]
    client, _ = open_page(tmp_path)
    client.get("/next", headers={"x-part": "1"})
    text = client.get("/").text
    told = text[text.index('class="do"') : text.index("</section>")]
    assert 'write it into <a href="/rig">the rig</a>.' in told
    assert "rig.yaml" not in told
    assert "say so in " in told  # that there is no scale
    assert "{" not in told


@pytest.mark.slow
@pytest.mark.parametrize("bow", BOWS)
def test_no_command_on_a_page(tmp_path, bow):
    client, _ = open_page(copied(tmp_path, bow))
    client.get("/next", headers={"x-part": "1"})
    for path in PAGES:
        words = Reader(client.get(path).text).words
        assert not re.search(r"\bshaftwright [a-z]|(?<!\w)--[a-z]", words), path


@pytest.mark.slow
def test_all_documents_of_a_bow_carry_the_same(tmp_path):
    plan = command("next", copied(tmp_path, "heron_marsh"))
    told = command("report", tmp_path)
    client, _ = open_page(tmp_path)
    found = [told, told["choose"], told["card"], told["shop"]]
    found += [client.get(f"/files/{name}.json").json() for name in ("choose", "bareshaft")]
    for one in found:
        assert (one["next"], one["shot"]) == (plan["next"], plan["shot"])


@pytest.mark.slow
def test_the_shots_are_read_once_for_all_pages(tmp_path, monkeypatch):
    counts = []
    real = asking.learn

    def counted(rig, book, prior, entries, *more):
        counts.append(len(entries))
        return real(rig, book, prior, entries, *more)

    monkeypatch.setattr(asking, "learn", counted)
    client, _ = open_page(copied(tmp_path, "heron_marsh"))
    for path in (*PAGES, "/files/choose.json", "/files/bareshaft.json", "/files/report.html"):
        assert client.get(path, headers={"x-part": "1"}).status_code == 200
    # the progress of the tuning reads fewer of them, end by end
    assert counts.count(max(counts)) == 1


@pytest.mark.slow
def test_the_old_rig_beside_the_new_one_counts(tmp_path):
    client, _ = open_page(copied(tmp_path, "heron_marsh"))
    first = client.get("/look").json()["revision"]
    with_it = client.get("/files/choose.json").json()
    assert with_it["spine_band_mils"] == command("choose", tmp_path)["spine_band_mils"]
    (tmp_path / "before.yaml").unlink()
    assert client.get("/look").json()["revision"] != first
    assert client.get("/files/choose.json").json()["spine_band_mils"] == pytest.approx(
        command("choose", tmp_path)["spine_band_mils"]
    )


def test_a_bad_old_rig_hides_nothing_and_is_told(tmp_path):
    copied(tmp_path, "heron_marsh")
    (tmp_path / "before.yaml").write_text("format: 1\n")
    client, _ = open_page(tmp_path)
    assert "before.yaml" in Reader(client.get("/rig").text).words
    client.get("/next", headers={"x-part": "1"})
    assert lines(client.get("/rig").text)[0].startswith("Shoot ")


def test_before_it_is_worked_out_a_page_says_where_it_will_stand(tmp_path, monkeypatch):
    from shaftwright.web.answers import State

    client, _ = open_page(copied(tmp_path, "heron_marsh"))
    monkeypatch.setattr(State, "answer", lambda *_: None)
    page = client.get("/rig").text
    assert 'data-load-part="/next"' in page
    assert '<a href="/next">' in page


def test_without_a_rig_there_is_nothing_to_do_but_begin(tmp_path):
    client, _ = open_page(tmp_path)
    for path in ("/", "/rig", "/shots", "/files", "/next"):
        text = client.get(path).text
        assert 'class="now"' not in text
        assert "data-load-part" not in text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Flex it.", "Flex it."),
        ("Cut too? Then: shaftwright note have A N --length L", "Cut too?"),
        ("Add it, then: shaftwright next.", "Add it."),
        ("With both in rig.yaml: shaftwright next.", ""),
        ("Shoot it; or shaftwright shop --any-line.", "Shoot it."),
        ("FEN--x is a name.", "FEN--x is a name."),
        ("stock.csv:3: price: 'x' is not a number", "stock.csv:3: price: 'x' is not a number"),
        ("Shorten stock.csv to what you would buy.", "Shorten the stock to what you would buy."),
    ],
)
def test_a_clause_with_a_command_is_left_out(text, shown):
    assert without_commands(text) == shown
