"""One mind on every screen: the same next thing, in the archer's words, short enough to read at the butt."""

import re

import pytest
from click.testing import CliRunner
from story import End, Story, document, run, said
from story_rigs import rig_of, shop
from test_stories import STORIES

import shaftwright
from shaftwright.cli.main import cli

FACES = ["choose", "bareshaft", "shop", "card"]
#: lines a screen may have, the files it rests on counted: a line, and a blank one before it but after `next`
LONGEST = {"next": 12, "bareshaft": 25, "choose": 30, "shop": 45, "card": 40}
#: left column of the plan's list of words: not on a screen; what to type is no sentence
WORDS = [
    r"\bbuilds?\b", r"\bpieces?\b", r"\bfront mass\b", r"\bmass(es)?\b", r"can be tuned",
    r"middle at the short", r"some cut of it", r"\bmatch(es|ed)?\b", r"\brobust", r"\bahead (by|of)\b",
    r"mass is missing", r"\brings at\b", r"\bbuckles at\b", r"\bslug\b", r"\bheight first\b",
    r"removes up to", r"\btold\b", r"\breckon", r"\bperils?\b", r"\btaught\b", r"\bunread\b",
    r"\bactual(ly)?\b", r"\brequired?\b",
]  # fmt: skip
ORDER = re.compile(r"(Shoot|Cut|Buy|Make|Build|Start|Try|Use|Fit|Put|Take|Screw|Change)\b")
#: changes and limits come to screens already seen; these are one of each
ON_ALL_FACES = [s for s in STORIES if not re.match(r"\.\.\.|setting|period|\d", s.name)]
SHAFTS = sorted((r["item"] for r in shop() if r["kind"] == "shaft"), key=len, reverse=True)


def sentences(text):
    """Sentences and items of a screen, without what is to be typed."""
    text = re.sub(r"`?shaftwright [^\n`]*`?", "", text)
    paragraphs = re.split(r"\n\s*\n|\n(?=\s*[-!*] )", text)
    flat = (" ".join(p.split()).lstrip("-!* ") for p in paragraphs)
    return [s for p in flat for s in re.split(r"(?<=[.:;!?])\s+", p) if s]


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """The bow's folder, its plan and the bow, opened once a story."""
    made = {}

    def of(story):
        if story.name not in made:
            folder = story.write(tmp_path_factory.mktemp("bow"), story.forms[0])
            bow = shaftwright.open(folder)
            made[story.name] = folder, bow.next().to_dict(), bow
        return made[story.name]

    return of


def fit_to_read(face, text, plan):
    """Opens with the next thing; short, narrow, in the archer's words; orders no other arrow."""
    lines = text.rstrip("\n").split("\n")
    assert len(lines) + (1 if face == "next" else 2) <= LONGEST[face], f"{len(lines)} lines\n{text}"
    assert max(map(len, lines)) <= 80, max(lines, key=len)
    do = plan["next"]["do"].split()
    assert text.split()[: len(do)] == do, text
    prose = re.sub(r"`?shaftwright [^\n`]*`?|--[a-z-]+", "", text)
    slipped = [w for w in WORDS if re.search(w, prose, re.I)]
    assert not slipped, f"{slipped}\n{text}"
    allowed = said(plan["next"]) + str(plan["next"]["shaft"]) + str(plan["next"]["buy"])
    for sentence in filter(ORDER.match, sentences(text)):
        for shaft in (s for s in SHAFTS if re.search(rf"{s}(?![\w-])", sentence)):
            assert re.search(rf"{shaft}(?![\w-])", allowed), sentence


@pytest.mark.parametrize("story", STORIES, ids=str)
@pytest.mark.slow
def test_next_is_fit_to_read(story: Story, told):
    _, plan, bow = told(story)
    assert plan["format"] == 2
    fit_to_read("next", str(bow.next()), plan)


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
