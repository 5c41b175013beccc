"""The forms of the notebook: in the rig's own units, with every field of a change, a kit in one go."""

from __future__ import annotations

import re
import shlex

import pytest
from click.testing import CliRunner
from web_kit import ORIGIN, Reader, fill, open_page, stock_text

from shaftwright.cli.main import cli
from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.records.notebook import content_hash

pytestmark = pytest.mark.slow
BUILD = {"by": "names", "build.shaft": "PLAIN-500", "build.length": "29 1/2 in", "build.point": "P175",
         "build.insert": "I25", "marks": "none", "date": "2026-06-01"}  # fmt: skip
HITS = {"hit-kind": ["fletched", "bare"], "hit-right": ["1.5", "-11"], "hit-up": ["", "2 in"],
        "hit-tail": ["", ""]}  # fmt: skip
SHORT = ("--shaft", "PLAIN-500", "--length", "29 1/2 in", "--point", "P175", "--date", "2026-06-01")


def metric(folder, **more):
    fill(folder, **more)
    rig = folder / "rig.yaml"
    rig.write_text(rig.read_text() + "\nunits: metric\n")
    assert load_rig(rig).units == "metric"
    return folder


def post(client, door, path="/shots/other", **given):
    return client.post(path, data={"token": door.token, **given}, headers=ORIGIN)


def told(answer):
    """What a page says below the line that every page opens with."""
    return Reader(answer.text[answer.text.index("<main") :]).words


def noted(folder):
    return load_notebook(folder / "notebook.yaml").entries


def command(folder, *words):
    answer = CliRunner().invoke(cli, ["note", str(folder), *words])
    assert answer.exit_code == 0, answer.output


@pytest.mark.parametrize("how", [metric, fill])
def test_what_the_page_notes_is_what_the_command_notes(tmp_path, how):
    (tmp_path / "page").mkdir()
    (tmp_path / "command").mkdir()
    one, other = how(tmp_path / "page"), how(tmp_path / "command")
    client, door = open_page(one)
    assert post(client, door, "/shots", **BUILD, **HITS, distance="9").status_code == 303
    command(other, "bareshaft", *SHORT, "--insert", "I25", "--distance", "9", "--marks", "none",
            "--fletched", "1.5,0", "--bare", "-11,2 in")  # fmt: skip
    arrow = {"build.shaft": "PLAIN-500", "build.length": "29 1/2 in", "build.point": "P175"}
    given = {"date": "2026-06-01", "distance": "18", "fletched": "3l", "broadhead": "5r 2lo"}
    assert post(client, door, kind="broadhead", **arrow, **given).status_code == 303
    command(other, "broadhead", *SHORT, "--distance", "18", "--fletched", "3l", "--hit", "5r 2lo")
    assert [*map(content_hash, noted(one))] == [*map(content_hash, noted(other))]
    assert noted(one)[0].distance_yd == pytest.approx(9 / 0.9144 if how is metric else 9)


def test_a_metric_bow_is_asked_in_metres_and_centimetres(tmp_path):
    client, _ = open_page(metric(tmp_path, notebook=True))
    now = client.get("/files/choose.json").json()["next"]
    page = Reader(client.get("/shots").text)
    assert "Right, cm Up, cm" in page.words
    assert "in centimetres from the point you aimed at" in page.words
    assert "1020cm" in page.words  # the rings of the face
    assert f" {page.value('distance')}, " in now["do"]  # as the line above says
    assert page.value("distance").endswith(" m")
    form = Reader(client.get("/shots/other?kind=broadhead").text)
    assert "Hits of the broadheads, cm" in form.words
    assert "Such as 18 m." in form.words
    assert "Such as 19.1 cm;" in Reader(client.get("/shots/other?kind=change").text).words
    rig = Reader(client.get("/rig").text).words
    assert "Such as 19.1 cm." in rig
    assert "plus 4.4 cm" in rig
    assert "at 18 m: " in Reader(client.get("/shots/noted").text).words
    assert page.value("far") == f"{now['distance_yd']:.1f} {page.value('distance')}"


def test_a_distance_that_is_left_as_it_came_is_the_plans(tmp_path):
    """18 m are told for 20 yd: as the command asks, the same told is the same meant."""
    client, door = open_page(metric(tmp_path))
    given = {**BUILD, **HITS, "distance": "18 m", "far": "20.0 18 m"}
    assert post(client, door, "/shots", **given).status_code == 303
    assert noted(tmp_path)[-1].distance_yd == 20
    assert post(client, door, "/shots", **given | {"distance": "19"}).status_code == 303
    assert noted(tmp_path)[-1].distance_yd == pytest.approx(19 / 0.9144)


@pytest.mark.parametrize(
    ("more", "said"),
    [({"distance": "500"}, "'500 m' is out of range; allowed: 1 to 110 m"),
     ({"hit-right": ["0", "900"]}, "'900 cm' is out of range; allowed: -305 to 305 cm"),
     ({"build.length": "99 in"}, "allowed: 15 to 45 in")],
)  # fmt: skip
def test_what_is_wrong_is_told_in_the_unit_that_was_asked(tmp_path, more, said):
    client, door = open_page(metric(tmp_path))
    answer = post(client, door, "/shots", **{**BUILD, **HITS, "distance": "9", **more})
    assert answer.status_code == 422
    assert said in told(answer)


def test_another_string_is_another_bow_and_one_press_writes_it_into_the_rig(tmp_path):
    client, door = open_page(fill(tmp_path, notebook=True))
    given = {"kind": "change", "what": "string", "now.string_material": "polyester",
             "now.brace": "8 in", "date": "2026-06-02"}  # fmt: skip
    answer = post(client, door, **given)
    assert "Taken as another bow" in told(answer)
    assert "String material: polyester (now low stretch)" in told(answer)
    assert ">What to do now</a>" in answer.text
    assert noted(tmp_path)[-1].rig_state.string_material == "polyester"
    form = answer.text[answer.text.index('action="/rig"') :]
    rig = {i["name"]: i["value"] for i in Reader(form[: form.index("</form>")]).inputs}
    saved = client.post("/rig", data=rig, headers=ORIGIN)
    # it is noted already: nobody is asked whether the bow has changed
    assert (saved.status_code, saved.headers["location"]) == (303, "/")
    now = load_rig(tmp_path / "rig.yaml")
    assert (now.string.material, now.bow.brace_height_in) == ("polyester", 8)
    assert post(client, door, **given).status_code == 200
    assert len([e for e in noted(tmp_path) if e.date and str(e.date) == "2026-06-02"]) == 1


@pytest.mark.parametrize(
    ("given", "weight"),
    [("42 lb", (42, "own_draw")), ("42 lb at 28 in", (42, 28.0)), ("187 N at own draw", (42.04, "own_draw"))],
)  # fmt: skip
def test_a_new_draw_weight_goes_into_the_rig_as_it_was_told(tmp_path, given, weight):
    client, door = open_page(fill(tmp_path))
    answer = post(client, door, kind="change", what="draw_weight", **{"now.draw_weight": given})
    form = answer.text[answer.text.index('action="/rig"') :]
    rig = {i["name"]: i["value"] for i in Reader(form[: form.index("</form>")]).inputs}
    assert client.post("/rig", data=rig, headers=ORIGIN).status_code == 303
    now = load_rig(tmp_path / "rig.yaml").bow.draw_weight
    assert (round(now.lb, 2), now.at) == weight


@pytest.mark.parametrize("what", ["plunger", "release", "crawl", "draw_length", "tiller"])
def test_every_kind_of_change_has_the_fields_of_the_command(tmp_path, what):
    from shaftwright.cli.note import PLUNGER, STATE

    client, door = open_page(fill(tmp_path))
    page = Reader(client.get("/shots/other?kind=change").text)
    names = {value for _, name, value in page.attributes if name == "name"}
    asked = {f"now.{name}" for name in STATE} | {f"now.plunger.{name}" for name in PLUNGER}
    assert asked == {name for name in names if name.startswith("now.")}
    value = {"plunger": "3", "release": "three_under", "crawl": "1 in", "draw_length": "72 cm", "tiller": "2 mm"}[what]  # fmt: skip
    field = "now.plunger.turns" if what == "plunger" else f"now.{what}"
    assert post(client, door, kind="change", what=what, **{field: value}).status_code == 200
    state = noted(tmp_path)[-1].rig_state.model_dump(by_alias=True, exclude_none=True)
    assert set(state) == {what}


def test_a_rig_that_was_saved_fills_the_form_of_its_change(tmp_path):
    client, door = open_page(fill(tmp_path, notebook=True))
    text = (tmp_path / "rig.yaml").read_text()
    given = _rig_form(client) | {"string.material": "polyester", "bow.draw_weight.lb": "44 lb",
                                 "bow.plate.thickness": "2 mm"}  # fmt: skip
    asked = client.post("/rig", data={**given, "token": door.token}, headers=ORIGIN)
    page = client.get(asked.headers["location"]).text
    there = re.search(r'href="(/shots/other[^"]+)"', page)[1].replace("&amp;", "&")
    form = Reader(client.get(there).text)
    chosen = [dict(a)["value"] for _, a in form.options if "selected" in dict(a)]
    assert form.value("now.draw_weight") == "44 lb at own draw"
    assert "polyester" in chosen
    assert form.value("now.brace") == ""
    sent = {
        "what": "string",
        "now.string_material": "polyester",
        "now.draw_weight": "44 lb at own draw",
    }
    answer = post(client, door, kind="change", **sent)
    assert "write it into the rig" not in told(answer)  # it stands there already
    assert ">What to do now</a>" in answer.text
    assert text != (tmp_path / "rig.yaml").read_text()


def _rig_form(client):
    """The rig's form as it was opened."""
    page = Reader(client.get("/rig").text)
    return {
        i["name"]: i.get("value", "") for i in page.inputs
        if "name" in i and (i.get("type") not in ("radio", "checkbox") or "checked" in i)
    }  # fmt: skip


def test_a_height_typed_beside_i_do_not_know_counts(tmp_path):
    """Without a script both are sent: where the file says unknown, the measure is what is new."""
    fill(tmp_path)
    rig = tmp_path / "rig.yaml"
    rig.write_text(re.sub("brace_height: .*", "brace_height: unknown", rig.read_text()))
    client, door = open_page(tmp_path)
    given = _rig_form(client)
    assert given["bow.brace_height.unknown"] == "yes"
    sent = given | {"bow.brace_height": "7 in", "token": door.token}
    assert client.post("/rig", data=sent, headers=ORIGIN).status_code == 303
    assert load_rig(rig).bow.brace_height_in == 7


def test_a_kit_is_noted_in_one_go(tmp_path):
    """The rows of the form are the line that the command is told to type; corrected, they are kept at once."""
    client, door = open_page(fill(tmp_path, stock=stock_text().replace(",1,2,10,", ",1,0,10,")))
    now = client.get("/files/choose.json").json()["next"]
    assert now["kind"] == "buy"
    line = shlex.split(now["note"])[3:]
    page = Reader(client.get("/shots/other?kind=have").text)
    rows = [[i["value"] for i in page.inputs if i.get("name") == n] for n in ("item", "count")]
    assert rows[0][: len(line) // 2] == line[::2]
    assert [*filter(None, rows[1])] == [number.partition(" at ")[0] for number in line[1::2]]
    rows[1][0] = "5"
    lengths = [i["value"] for i in page.inputs if i.get("name") == "length"]
    lengths[0] = "31 in"
    given = {
        "kind": "have",
        "date": "2026-06-02",
        "item": rows[0],
        "count": rows[1],
        "length": lengths,
    }
    assert post(client, door, **given).status_code == 303
    kept = noted(tmp_path)
    assert [e.item for e in kept] == line[::2]
    assert (kept[0].count, kept[0].length_in) == (5, 31)
    assert not any(e.length_in for e in kept[1:])
    post(client, door, **given)  # sent twice, noted once
    assert noted(tmp_path) == kept
    # all or none, and what was filled in stays
    rows[0][1] = "NOTHING-SUCH"
    bad = post(client, door, **given)
    assert bad.status_code == 422
    assert Reader(bad.text).value("count") == "5"
    rows[0][1], rows[1][1] = line[2], ""
    assert f"{line[2]}: count: is missing" in told(post(client, door, **given))
    assert noted(tmp_path) == kept


def test_a_list_names_what_came_of_it(tmp_path):
    client, _ = open_page(fill(tmp_path, notebook=True))
    client.get("/list", headers={"x-part": "1"})
    text = client.get("/list").text
    bought = client.get("/files/list.json").json()
    lines = [line for line in bought["test_kit"] or bought["list"] if line["packs"]]
    there = re.search(r'href="(/shots/other\?kind=have&amp;came=[^"]+)"', text)[1]
    page = Reader(client.get(there.replace("&amp;", "&")).text)
    found = [[i["value"] for i in page.inputs if i.get("name") == n] for n in ("item", "count")]
    assert found[0][: len(lines)] == [line["item"] for line in lines]
    come = [str(line["in_hand"] + line["packs"] * line["pack"]) for line in lines]
    assert found[1][: len(lines)] == come


def test_words_that_are_of_a_string_open_the_fields_of_a_string(tmp_path):
    """A new string in words alone was a setting of the same bow, whatever it is made of."""
    client, door = open_page(fill(tmp_path))
    given = {"kind": "change", "what": "other", "note": "new string, low stretch"}
    answer = post(client, door, **given)
    assert answer.status_code == 422
    assert "say what of it is other" in told(answer)
    form = Reader(answer.text)
    assert "string" in [dict(a)["value"] for _, a in form.options if "selected" in dict(a)]
    assert form.value("note") == "new string, low stretch"
    assert not (tmp_path / "notebook.yaml").exists()
    # as it stands: nothing of it is other
    assert post(client, door, **given | {"what": "string"}).status_code == 200
    (entry,) = noted(tmp_path)
    assert (entry.what, entry.note) == ("string", "new string, low stretch")


def test_a_string_told_by_the_rig_first_is_another_bow_all_the_same(tmp_path):
    client, door = open_page(fill(tmp_path, notebook=True))
    given = _rig_form(client) | {"string.material": "polyester", "bow.brace_height": "8 in"}
    asked = client.post("/rig", data={**given, "token": door.token}, headers=ORIGIN)
    assert "what=string&" in asked.headers["location"]
    sent = {"what": "string", "now.string_material": "polyester", "now.brace": "8 in"}
    assert "Taken as another bow" in told(post(client, door, kind="change", **sent))
