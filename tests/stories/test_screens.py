"""One mind on every screen: the same next thing, in the archer's words, short enough to read at the butt."""

import re

import pytest
from click.testing import CliRunner
from story import End, Story, document, run
from story_rigs import rig_of
from story_screens import WORDS, fit_to_read
from test_stories import STORIES

from shaftwright.cli.main import cli

FACES = ["choose", "bareshaft", "shop", "card"]
#: changes and limits come to screens already seen; these are one of each
ON_ALL_FACES = [s for s in STORIES if not re.match(r"\.\.\.|setting|period|\d", s.name)]


@pytest.mark.slow
@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("story", ON_ALL_FACES, ids=str)
def test_every_face_is_of_one_mind(story: Story, face, told):
    _, plan, bow = told(story)
    answer = getattr(bow, face)()
    found = answer.to_dict()
    assert found["format"] == 2
    assert found["next"] == plan["next"]
    assert found["shot"] == plan["shot"]
    if face == "choose":
        puts_it_first(plan, found["builds"])
    fit_to_read(face, str(answer), plan)


def puts_it_first(plan, builds):
    """In prove, dozen and done it heads the list; in tune it is listed."""
    next_ = plan["next"]
    found = [(b["shaft"], round(b["length_in"], 2), b["point"]) for b in builds]
    if next_["shaft"] is None or not builds:  # nothing to make, or no shop to make it from
        return
    it = next_["shaft"], round(next_["length_in"], 2), next_["point"]
    if next_["stage"] in ("prove", "dozen", "done"):
        assert found[0] == it
    elif next_["stage"] == "tune" and next_["kind"] in ("shoot", "point", "cut"):
        assert it in found


@pytest.mark.slow
def test_every_other_document_of_a_bow_carries_it(told):
    _, plan, bow = told(STORIES[0])
    arrow = {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"}
    for face in ("build", "explain", "flight", "launch"):
        found = getattr(bow, face)(arrow, **({"draws": 4} if face == "launch" else {})).to_dict()
        assert (found["format"], found["next"], found["shot"]) == (2, plan["next"], plan["shot"]), (
            face
        )


@pytest.mark.slow
def test_the_report_opens_with_it(told, tmp_path):
    folder, plan, _ = told(STORIES[0])
    page = tmp_path / "page.html"
    run("report", folder, "--html", page)
    text = re.sub(r"<(style|script).*?</\1>|<[^>]+>", " ", page.read_text(), flags=re.S)
    assert " ".join(plan["next"]["do"].split()) in " ".join(text.split())


def test_the_list_of_words_finds_them():
    screen = (
        "A piece of this build matches; 8 gr/lb actual, front mass required, told ahead by 0.071"
    )
    assert sum(bool(re.search(w, screen, re.I)) for w in WORDS) == 9


@pytest.mark.slow
def test_a_folder_s_answer_ends_with_the_files_it_took(told):
    folder, *_ = told(STORIES[0])
    for face in ("next", *FACES):
        last = re.split(r"\n\s*\n", run(face, folder).stdout.rstrip("\n"))[-1]
        assert all(name in last for name in ("rig.yaml", "stock.csv", "notebook.yaml")), (
            face,
            last,
        )


def test_metric_archers_read_metres_and_centimetres(tmp_path):
    ends = (End("MARSH-500", 29.5, weak=0.4, yd=10),)
    story = Story("metric", {}, ends, rig=rig_of(units="metric"), owned={"MARSH-500": 1})
    text = run("next", story.write(tmp_path)).stdout
    assert re.search(r"\b1[89](\.\d)? m\b", text), text
    assert not re.search(r"\byd\b", re.sub("shaftwright [^\n]*", "", text)), text
    assert "29 1/2 in" in text


def test_a_rig_file_takes_only_what_is_named(told):
    folder, plan, _ = told(STORIES[0])
    bare = document("next", folder / "rig.yaml")
    assert bare["shot"] == []
    named = document("next", folder / "rig.yaml", "--stock", folder / "stock.csv",
                     "--notebook", folder / "notebook.yaml")  # fmt: skip
    assert named["next"] == plan["next"]


def test_nothing_is_the_folder_one_stands_in(told, monkeypatch):
    folder, plan, _ = told(STORIES[0])
    monkeypatch.chdir(folder)
    assert document("next")["next"] == plan["next"]
    assert CliRunner().invoke(cli, ["next", "--json"]).exit_code == 0
