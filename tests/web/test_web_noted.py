"""The notebook on the page: entries struck out and noted again, its other kinds, a version put back."""

from __future__ import annotations

import re

import pytest
from web_kit import ORIGIN, Reader, fill, open_page

from shaftwright.files.notebook import load_notebook
from shaftwright.records.notebook import content_hash

pytestmark = pytest.mark.slow


def post(client, door, path, **given):
    return client.post(path, data={"token": door.token, **given}, headers=ORIGIN)


def test_an_entry_is_struck_out_and_noted_again(tmp_path):
    client, door = open_page(fill(tmp_path, notebook=True))
    file = tmp_path / "notebook.yaml"
    text, before = file.read_text(), load_notebook(file)
    given = {"line": str(before.lines[2]), "mark": content_hash(before.entries[2])}
    assert post(client, door, "/shots/strike", **given).status_code == 303
    assert file.read_text().startswith(text)
    now = load_notebook(file)
    assert now.withdrawn == (before.entries[2],)
    assert now.entries == (*before.entries[:2], *before.entries[3:])
    # a second press, or a page gone stale, strikes nothing else
    assert post(client, door, "/shots/strike", **given).status_code == 409
    assert post(client, door, "/shots/again", **given).status_code == 303
    assert post(client, door, "/shots/again", **given).status_code == 303
    assert sorted(map(content_hash, load_notebook(file).entries)) == sorted(
        map(content_hash, before.entries)
    )


def test_an_entry_that_was_changed_since_is_not_struck_out(tmp_path):
    client, door = open_page(fill(tmp_path, notebook=True))
    line = load_notebook(tmp_path / "notebook.yaml").lines[0]
    answer = post(client, door, "/shots/strike", line=str(line), mark="0" * 8)
    assert answer.status_code == 409
    assert not load_notebook(tmp_path / "notebook.yaml").withdrawn


@pytest.mark.slow
def test_the_history_says_where_the_bare_ones_lay(tmp_path):
    from shaftwright.render.screens.next import landed
    from shaftwright.web.answers import read_papers, scenario_of
    from shaftwright.web.workbook import Workbook

    client, _ = open_page(fill(tmp_path, notebook=True))
    client.get("/files/choose.json")  # the answer is there now
    words = Reader(client.get("/shots/noted").text).words
    asked = scenario_of(read_papers(Workbook(tmp_path)))
    ends = [end for arrow in asked.where.arrows for end in arrow.ends]
    assert ends
    for end in ends:
        assert f"at 20 yd: {landed(end.seen_right_in, 'imperial')}" in words


@pytest.mark.slow
def test_the_history_fetches_the_progress_of_the_tuning(tmp_path):
    client, _ = open_page(fill(tmp_path, notebook=True))
    assert 'data-load-part="/shots/progress"' in client.get("/shots/noted").text
    part = client.get("/shots/progress", headers={"X-Part": "1"}).text
    assert 'id="progress"' in part
    assert "before you shot" in part
    assert "shaftwright " not in part
    (tmp_path / "notebook.yaml").unlink()
    assert "No end of bare shafts" in client.get("/shots/progress").text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "given", "kept"),
    [("brace", {"brace": "7 3/8 in", "shots_on": "60"}, {"brace_in": 7.375, "shots_on": 60}),
     ("chrono", {"speed": "171 fps", "arrow_mass": "505 gr"}, {"speed_fps": 171, "arrow_mass_gr": 505}),
     ("sound", {"level": "84.2 dB", "weighting": "A"}, {"level_db": 84.2, "weighting": "A"}),
     ("weigh", {"item": "arrow 3", "mass": "503.5 gr"}, {"item": "arrow 3", "mass_gr": 503.5}),
     ("have", {"item": "P150", "count": "6"}, {"item": "P150", "count": 6}),
     ("change", {"note": "my new glove", "date": "2026-05-01"}, {"what": "my new glove"})],
)  # fmt: skip
def test_every_other_kind_has_a_form(tmp_path, kind, given, kept):
    client, door = open_page(fill(tmp_path))
    form = Reader(client.get(f"/shots/other?kind={kind}").text)
    assert set(given) <= {value for _, name, value in form.attributes if name == "name"}
    answer = post(client, door, "/shots/other", kind=kind, **given)
    assert answer.status_code == (200 if kind == "change" else 303)
    if kind == "change":
        assert "Taken as a setting of the same bow" in Reader(answer.text).words
    (entry,) = load_notebook(tmp_path / "notebook.yaml").entries
    assert entry.kind == kind
    assert {name: getattr(entry, name) for name in kept} == pytest.approx(kept) or kind == "change"
    # sent twice, noted once
    post(client, door, "/shots/other", kind=kind, **given)
    assert len(load_notebook(tmp_path / "notebook.yaml").entries) == 1


def test_a_day_still_to_come_is_remarked_on(tmp_path):
    client, door = open_page(fill(tmp_path))
    given = {"kind": "weigh", "item": "arrow 3", "mass": "503.5 gr"}
    words = Reader(post(client, door, "/shots/other", **given, date="2999-05-01").text).words
    assert "2999-05-01 is still to come" in words
    assert post(client, door, "/shots/other", **given, date="2020-05-01").status_code == 303


def test_a_change_of_brace_says_what_to_write_into_the_rig(tmp_path):
    client, door = open_page(fill(tmp_path))
    given = {"kind": "change", "what": "brace", "now.brace": "8 in"}
    words = Reader(post(client, door, "/shots/other", **given).text).words
    assert "Brace height: 8 in (now 7 1/2 in)" in words
    (entry,) = load_notebook(tmp_path / "notebook.yaml").entries
    assert entry.rig_state.brace_height_in == 8


@pytest.mark.parametrize(
    ("given", "told"),
    [({"what": "plate", "now.plate": "2 mm"}, "Plate: 5/64 in (now 1/16 in)"),
     ({"what": "plunger"}, "Plunger: what of it is different now"),
     ({"what": "string"}, "String material, string weight, string silencers, brace height: what of it"),
     ({"what": "plate", "now.plate": "0.0625004 in"}, None)],
)  # fmt: skip
def test_what_to_write_into_the_rig_is_called_as_on_the_card(tmp_path, given, told):
    """No field of the file is named; a measure that only rounding parts from the file's is the same."""
    client, door = open_page(fill(tmp_path))
    text = post(client, door, "/shots/other", kind="change", **given).text
    main = Reader(text[text.index("<main") :]).words
    assert told is None or told in main
    assert ("write it into the rig" in main) == (told is not None)
    # one press writes what was stated; what was not is asked in the rig's form
    assert ("Write it into the rig" in main) == (told is not None and "now.plate" in given)
    assert ("To the rig's form" in main) == (told is not None and "now.plate" not in given)
    assert "bow." not in main


def test_a_fault_keeps_every_answer(tmp_path):
    client, door = open_page(fill(tmp_path))
    answer = post(client, door, "/shots/other", kind="chrono", speed="fast", arrow_mass="505 gr")
    assert answer.status_code == 422
    page = Reader(answer.text)
    assert "'fast'" in page.words
    assert page.value("arrow_mass") == "505 gr"
    assert not (tmp_path / "notebook.yaml").exists()
    assert client.get("/shots/other?kind=nonsense").status_code == 404


def test_a_kept_version_is_put_back_with_one_press(tmp_path):
    client, door = open_page(fill(tmp_path))
    before = (tmp_path / "stock.csv").read_text()
    revision = Reader(client.get("/stock").text).value("revision")
    bring = {"file": ("s.csv", before.replace("P150", "P155"), "text/csv")}
    client.post(
        "/stock", data={"token": door.token, "revision": revision}, files=bring, headers=ORIGIN
    )
    assert "P155" in (tmp_path / "stock.csv").read_text()
    name = Reader(client.get("/files").text).value("name")
    assert post(client, door, "/files/restore", name=name).status_code == 303
    assert (tmp_path / "stock.csv").read_text() == before
    assert post(client, door, "/files/restore", name="../rig.yaml").status_code == 404


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "value", "what"), [("bow.brace_height", "8 in", "brace"), ("name", "x", "")]
)
def test_after_a_save_the_page_asks_whether_the_bow_has_changed(tmp_path, name, value, what):
    from shaftwright.files.strict_yaml import parse_yaml
    from shaftwright.web.forms import values_of

    client, door = open_page(fill(tmp_path, notebook=True))
    text = (tmp_path / "rig.yaml").read_text()
    revision = Reader(client.get("/rig").text).value("revision")
    given = values_of(parse_yaml(text, "rig.yaml").data) | {name: value, "revision": revision}
    answer = post(client, door, "/rig", **given)
    assert answer.status_code == 303
    if what:
        assert answer.headers["location"].startswith(f"/rig/why?what={what}&")
        asked = client.get(answer.headers["location"])
        assert "Has the bow changed, or did you measure better?" in Reader(asked.text).words
        there = re.search(r'href="(/shots/other[^"]+)"', asked.text)[1].replace("&amp;", "&")
        form = Reader(client.get(there).text)
        assert what in [dict(a)["value"] for _, a in form.options if "selected" in dict(a)]
        assert form.value("now.brace") == "8 in"
        assert form.value("now.plate") == ""
    else:
        assert answer.headers["location"] == "/rig?saved=1"


@pytest.mark.slow
def test_the_card_is_among_the_files(tmp_path):
    import datetime

    from shaftwright.answers.card.card import card
    from shaftwright.render.page import card_html
    from shaftwright.web.answers import read_papers, scenario_of
    from shaftwright.web.workbook import Workbook

    client, _ = open_page(fill(tmp_path, notebook=True))
    asked = scenario_of(read_papers(Workbook(tmp_path)))
    assert client.get("/files/card.html").text == card_html(card(asked, datetime.date.today()))


def test_one_faulty_row_is_named_on_every_page_and_the_good_ones_are_used_on_request(tmp_path):
    from web_kit import stock_text

    good = stock_text()
    bad = good + f"{'x' * 300},point,,,,,,,,150,10.00,6,0,,,,\n"
    client, door = open_page(fill(tmp_path, stock=bad))
    for path in ("/rig", "/stock", "/shots", "/list", "/files", "/shots/noted"):
        page = Reader(client.get(path).text)
        assert "stock.csv:9" in page.words, path
        assert "Use the good rows" in page.words, path
    assert post(client, door, "/stock/good", revision="stale").status_code == 409
    revision = page.value("revision")
    assert post(client, door, "/stock/good", revision=revision).status_code == 303
    assert (tmp_path / "stock.csv").read_text() == good
    assert bad in [path.read_text() for path in (tmp_path / "kept").iterdir()]
    assert "Use the good rows" not in client.get("/rig").text


@pytest.mark.slow
def test_a_count_of_the_same_day_takes_the_others_place_and_an_older_one_says_that_it_is_none(
    tmp_path,
):
    """On the page as in the terminal: the count noted last holds, not the smallest of the day."""
    client, door = open_page(fill(tmp_path, notebook=True))

    def count(number, day="2026-06-02"):
        return post(
            client, door, "/shots/other", kind="have", item="MARSH-400", count=str(number), date=day
        )

    short = post(
        client, door, "/shots/other", kind="have", item="MARSH-500", count="2", length="26"
    )
    assert "26 in is too short for this draw" in Reader(short.text).words
    assert count(1).status_code == 303
    assert count(4).status_code == 303
    kept = [e for e in load_notebook(tmp_path / "notebook.yaml").entries if e.kind == "have"]
    assert [e.count for e in kept] == [2, 4]
    older = count(9, "2026-06-01")
    assert older.status_code == 200
    assert (
        "MARSH-400 was counted later, on 2026-06-02; 4 MARSH-400 in hand"
        in Reader(older.text).words
    )


def filled_in(client, kind):
    """The hidden fields of a form: the arrow that it is of."""
    form = Reader(client.get(f"/shots/other?kind={kind}").text)
    return {i["name"]: i["value"] for i in form.inputs if i.get("name", "").startswith("build.")}


@pytest.mark.slow
def test_broadheads_and_the_dozen_are_noted_of_the_arrow_that_next_names(tmp_path):
    """Without them nobody with a phone alone gets past the last proof, nor to the end."""
    client, door = open_page(fill(tmp_path, notebook=True))
    arrow = filled_in(client, "broadhead")
    assert (arrow["build.shaft"], arrow["build.broadhead"]) == ("MARSH-500", "B175")
    assert (
        'name="distance" type="text" value="20 yd"'
        in client.get("/shots/other?kind=broadhead").text
    )
    told = {
        "distance": "20 yd",
        "fletched": "0; 1 left",
        "broadhead": "2 right 1 high",
        "date": "2026-06-01",
    }
    bad = post(
        client, door, "/shots/other", kind="broadhead", **arrow, **told | {"fletched": "over there"}
    )
    assert bad.status_code == 422
    assert "is not a hit" in Reader(bad.text).words
    assert post(client, door, "/shots/other", kind="broadhead", **arrow, **told).status_code == 303
    noted = load_notebook(tmp_path / "notebook.yaml").entries[-1]
    assert (noted.kind, noted.build.broadhead, noted.distance_yd) == ("broadhead", "B175", 20)
    assert (noted.fletched, noted.broadhead) == (((0, 0), (-1, 0)), ((2, 1),))
    assert noted.rig_state.brace_height_in == 7.5
    word = {"distance": "20 yd", "together": "false"}
    assert post(client, door, "/shots/other", kind="broadhead", **arrow, **word).status_code == 303
    assert load_notebook(tmp_path / "notebook.yaml").entries[-1].together is False
    arrow = filled_in(client, "dozen")
    made = {"made": "12", "masses": "441, 442.5 440"}
    answer = post(client, door, "/shots/other", kind="dozen", **arrow, **made)
    said = Reader(answer.text).words
    assert "2 MARSH-500 were in hand: 10 more are taken as bought." in said
    assert "No arrow is proven yet, so a dozen is early." in said
    dozen = load_notebook(tmp_path / "notebook.yaml").entries[-1]
    assert (dozen.kind, dozen.made, dozen.masses_gr) == ("dozen", 12, (441, 442.5, 440))
    assert (dozen.build.shaft, dozen.build.length_in) == ("MARSH-500", 29.5)


@pytest.mark.slow
def test_nothing_is_noted_of_an_arrow_that_nobody_names(tmp_path):
    client, _ = open_page(tmp_path)
    assert "No arrow is named yet" in Reader(client.get("/shots/other?kind=dozen").text).words
