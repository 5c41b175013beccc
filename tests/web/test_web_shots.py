"""Bare shafts entered by the page are the entries that `note` would write."""

from __future__ import annotations

import shutil

import pytest
from web_kit import EXAMPLES, ORIGIN, Reader, fill, open_page

from shaftwright.files.notebook import load_notebook

HITS = {
    "hit-kind": ["fletched", "fletched", "bare", "bare", "bare"],
    "hit-right": ["0.5", "-1", "-3", "-2 1/2 in", ""],
    "hit-up": ["-1", "0.5", "0.5", "2 cm", ""],
    "hit-tail": ["", "", "right", "high", "left"],
}
BUILD = {"by": "names", "build.shaft": "PLAIN-500", "build.length": "29 1/2 in", "build.point": "P175",
         "build.insert": "I25", "distance": "15 yd", "taped": "yes", "marks": "none"}  # fmt: skip


def note(client, door, **more):
    return client.post(
        "/shots", data={**BUILD, **HITS, "token": door.token, **more}, headers=ORIGIN
    )


def test_a_reading_is_appended(tmp_path):
    client, door = open_page(fill(tmp_path))
    assert note(client, door).status_code == 303
    (entry,) = load_notebook(tmp_path / "notebook.yaml").entries
    assert entry.build.shaft == "PLAIN-500"
    assert entry.build.length_in == 29.5
    assert entry.distance_yd == 15
    assert entry.fletched == ((0.5, -1.0), (-1.0, 0.5))
    assert [shot.at for shot in entry.bare] == [(-3.0, 0.5), (-2.5, pytest.approx(0.7874))]
    assert [(shot.tail.side, shot.tail.up) for shot in entry.bare] == [
        ("right", None),
        (None, "high"),
    ]
    assert entry.taped
    assert entry.marks == "none"
    # the bow as the rig tells it
    assert entry.rig_state.draw_weight.lb == 47
    assert entry.rig_state.limbs_id == "heron-2"


def test_just_after_an_end_what_to_do_now_stands_before_the_form(tmp_path):
    client, _ = open_page(shutil.copytree(EXAMPLES / "heron_marsh", tmp_path / "heron"))
    for query, first in (("?noted=9", True), ("?twice=1", True), ("", False)):
        text = client.get(f"/shots{query}").text.split("<h1", 1)[1]
        assert (text.index("What to do now") < text.index("data-shots")) == first, query
        client.get("/next")  # once waited for, and once worked out


def test_an_arrow_without_a_point_or_longer_than_it_comes_is_not_noted(tmp_path):
    client, door = open_page(fill(tmp_path))
    for more, told in (
        ({"build.point": ""}, "is missing: no arrow is shot without one"),
        ({"build.length": "40 in"}, "at most"),
    ):
        answer = note(client, door, **more)
        assert answer.status_code == 422
        assert told in Reader(answer.text).words
    assert not (tmp_path / "notebook.yaml").exists()


@pytest.mark.parametrize(
    ("more", "told"),
    [({"build.length": "26 in"}, "26 in is too short for this draw"), ({"date": "2999-05-01"}, "2999-05-01 is still to come")],
)  # fmt: skip
def test_what_is_hardly_meant_so_is_said_at_once(tmp_path, more, told):
    client, door = open_page(fill(tmp_path))
    answer = note(client, door, **more)
    assert answer.status_code == 200
    assert told in Reader(answer.text).words
    assert len(load_notebook(tmp_path / "notebook.yaml").entries) == 1


def test_what_stands_in_the_notebook_stays_to_the_letter(tmp_path):
    fill(tmp_path)
    shutil.copy(EXAMPLES / "heron_marsh/notebook.yaml", tmp_path / "notebook.yaml")
    before = (tmp_path / "notebook.yaml").read_text()
    client, door = open_page(tmp_path)
    note(client, door)
    assert (tmp_path / "notebook.yaml").read_text().startswith(before)


def test_a_form_sent_twice_is_noted_once(tmp_path):
    client, door = open_page(fill(tmp_path))
    assert "noted" in note(client, door).headers["location"]
    assert "twice" in note(client, door).headers["location"]
    assert len(load_notebook(tmp_path / "notebook.yaml").entries) == 1


def test_by_numbers_and_in_words(tmp_path):
    client, door = open_page(fill(tmp_path))
    form = {"token": door.token, "by": "numbers", "build.spine": "500", "build.length": "30 in",
            "build.front": "200 gr", "build.shaft": "left over", "distance": "12 m", "reads": "slightly_stiff",
            "nock": "right"}  # fmt: skip
    assert client.post("/shots", data=form, headers=ORIGIN).status_code == 303
    (entry,) = load_notebook(tmp_path / "notebook.yaml").entries
    assert entry.build.by_numbers
    assert entry.reads == "slightly_stiff"
    assert entry.nock == ("right",)


@pytest.mark.parametrize(
    ("more", "told"),
    [({"distance": "far"}, "distance: 'far'"), ({"build.length": "3 in"}, "build.length: '3 in'"),
     ({"hit-right": ["0", "0", "left a bit", "0", ""]}, "'left a bit'"), ({"reads": "sideways"}, "reads: 'sideways'"),
     ({"distance": ""}, "distance"), ({"date": "yesterday"}, "date")],
)  # fmt: skip
def test_faults_keep_every_answer(tmp_path, more, told):
    client, door = open_page(fill(tmp_path))
    answer = note(client, door, **more)
    assert answer.status_code == 422
    page = Reader(answer.text)
    assert told in page.words
    rights = [i.get("value") for i in page.inputs if i.get("name") == "hit-right"]
    assert "0" in rights or "0.5" in rights
    assert not (tmp_path / "notebook.yaml").exists()


def test_nothing_shot_is_nothing_noted(tmp_path):
    client, door = open_page(fill(tmp_path))
    answer = client.post("/shots", data={**BUILD, "token": door.token}, headers=ORIGIN)
    assert answer.status_code == 422
    assert "needs bare shots, or reads, or nock" in Reader(answer.text).words


def test_which_of_several_alike_is_noted(tmp_path):
    client, door = open_page(fill(tmp_path))
    assert note(client, door, piece="2").status_code == 303
    assert load_notebook(tmp_path / "notebook.yaml").entries[0].piece == 2
    answer = note(client, door, piece="two")
    assert answer.status_code == 422
    assert "piece: 'two'" in Reader(answer.text).words


@pytest.mark.slow
def test_what_the_shots_say_is_what_bareshaft_says(tmp_path):
    from shaftwright.answers.diagnose import diagnose
    from shaftwright.web.answers import read_papers, scenario_of
    from shaftwright.web.workbook import Workbook

    client, _ = open_page(fill(tmp_path, notebook=True))
    part = client.get("/shots/says", headers={"x-part": "1"}).text
    words = Reader(part).words
    found = diagnose(scenario_of(read_papers(Workbook(tmp_path))))
    for cause in (c for c in found.causes if c.chance >= 0.05):
        assert cause.check[1:] in words
    assert f"stiffest {5 * round(found.band_after.low / 5)}," in words  # as the command rounds it
    assert "<svg" in part
    document = client.get("/files/bareshaft.json").json()
    assert document["verdict"] == found.verdict
    assert document["next"] == found.plan.next.to_dict()


@pytest.mark.slow
def test_the_form_begins_with_the_arrow_to_shoot_next(tmp_path):
    client, _ = open_page(fill(tmp_path, notebook=True))
    now = client.get("/files/choose.json").json()["next"]
    page = Reader(client.get("/shots").text)
    values = {i.get("name"): i.get("value") for i in page.inputs}
    assert values["build.length"] == f"{now['length_in']:g}"
    assert values["distance"] == f"{now['distance_yd']:g} yd"
    chosen = [dict(a)["value"] for tag, a in page.options if "selected" in dict(a)]
    assert {now["shaft"], now["point"], now["insert"]} <= set(chosen)
