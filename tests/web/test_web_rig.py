"""The rig's steps: what the form writes is what the commands read, and the faults are the same."""

from __future__ import annotations

import shutil

import pytest
import yaml
from web_kit import EXAMPLES, ORIGIN, Reader, fill, open_page

from shaftwright.errors import InputError
from shaftwright.files.rig import load_rig, rig_from
from shaftwright.files.strict_yaml import load_yaml, parse_yaml
from shaftwright.web.forms import all_fields, forms, rig_check, told, values_of
from shaftwright.web.workbook import Workbook

RIGS = sorted(p for p in EXAMPLES.glob("*/*.yaml") if "notebook" not in p.name)


@pytest.mark.parametrize("path", RIGS, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_every_example_goes_through_the_form_unchanged(path):
    data = load_yaml(path).data
    checked = rig_check(values_of(data), data)
    assert checked.faults == {}
    assert checked.rig == load_rig(path)
    assert rig_from(parse_yaml(checked.text, "rig.yaml")) == load_rig(path)


def test_the_starter_goes_through_the_form(tmp_path):
    from importlib.resources import files

    text = (files("shaftwright") / "starter" / "rig.yaml").read_text(encoding="utf-8")
    data = parse_yaml(text, "rig.yaml").data
    assert rig_check(values_of(data), data).rig == rig_from(parse_yaml(text, "rig.yaml"))


def test_what_the_form_does_not_ask_stays():
    data = load_yaml(EXAMPLES / "heron_marsh/rig.yaml").data
    data["launch"] = {"side_fraction": 0.1}
    checked = rig_check(values_of(data), data)
    assert checked.rig is not None
    assert checked.rig.launch.side_fraction == 0.1


def test_a_rig_without_a_scale_keeps_saying_so():
    data = load_yaml(EXAMPLES / "heron_marsh/rig.yaml").data
    data["bow"]["draw_weight"] = {"lb": 45, "at": "28 in", "no_scale": True}
    values = values_of(data)
    assert rig_check(values, data).rig.bow.draw_weight.no_scale
    assert not rig_check(
        {**values, "bow.draw_weight.no_scale": ""}, data
    ).rig.bow.draw_weight.no_scale


def test_every_field_of_the_rig_is_asked():
    from pydantic import BaseModel

    from shaftwright.records.rig import Rig

    def leaves(model, before=""):
        for name, info in model.model_fields.items():
            path = before + (info.alias or name)
            options = [info.annotation, *getattr(info.annotation, "__args__", ())]
            below = next(
                (o for o in options if isinstance(o, type) and issubclass(o, BaseModel)), None
            )
            yield from leaves(below, f"{path}.") if below else [path]

    asked = {field.field for field in all_fields()} - {"bow.draw_weight.way"}
    assert {p for p in leaves(Rig) if not p.startswith("launch.")} - {"format"} == asked


def test_every_choice_is_one_the_rig_allows_and_unknown_can_be_said():
    from shaftwright.records import rig as record

    allowed = {
        "archer.hand": record.Hand, "archer.release": record.Release, "bow.kind": record.BowKind,
        "bow.limbs": record.Limbs, "bow.window.cut": record.Cut, "bow.rest": record.Rest,
        "bow.plate.material": record.PlateMaterial, "string.material": record.StringMaterial,
        "purpose": record.Purpose,
    }  # fmt: skip
    for field in all_fields():
        if field.field in allowed:
            offered = {choice[0] for choice in field.choices} - {""}
            assert offered == set(allowed[field.field].__args__), field.field


def test_every_question_has_help():
    for step in forms().steps:
        assert step.intro
        for field in step.fields:
            assert len(field.help) > 10, field.field


@pytest.mark.parametrize(
    ("field", "text"),
    [("archer.draw_length", "280"), ("archer.draw_length", "twenty"), ("bow.brace_height", "nan"),
     ("bow.draw_weight.lb", "4 stone"), ("string.strands", "14.5"), ("bow.window.by", "9 in"),
     ("string.silencer_position", "1/0"), ("bow.maker_minimum_gr_per_lb", "-3"), ("bow.tiller", "1e400")],
)  # fmt: skip
def test_faults_are_those_of_the_commands(tmp_path, field, text):
    data = load_yaml(EXAMPLES / "heron_marsh/rig.yaml").data
    checked = rig_check({**values_of(data), field: text}, data)
    assert checked.rig is None
    (tmp_path / "rig.yaml").write_text(checked.text)
    with pytest.raises(InputError) as error:
        load_rig(tmp_path / "rig.yaml")
    assert [told(fault) for fault in error.value.faults] == [checked.faults[field]]


def test_an_empty_form_names_what_is_missing():
    faults = rig_check({}, None).faults
    for field in all_fields():
        if (
            field.required
            and not field.field.startswith("bow.draw_weight.way")
            and field.field != "purpose"
        ):
            assert field.field in faults, field.field


def test_unknown_is_an_answer():
    data = load_yaml(EXAMPLES / "heron_marsh/rig.yaml").data
    values = values_of(data)
    values["bow.brace_height.unknown"] = "yes"
    values["bow.window.by.unknown"] = "yes"
    rig = rig_check(values, data).rig
    assert rig.bow.brace_height_in == "unknown"
    assert rig.bow.window.by_in == "unknown"
    again = values_of(yaml.safe_load(rig_check(values, data).text))
    assert again["bow.brace_height.unknown"] == "yes"


@pytest.mark.parametrize(
    ("weight", "way", "at"),
    [("45 lb at 28 in", "marked", "28 in"), ("45 lb @ 28", "marked", "28"),
     ("45 lb at own draw", "own_draw", None), ({"lb": "45 lb"}, "marked", "")],
)  # fmt: skip
def test_a_draw_weight_in_words_fills_the_form(weight, way, at):
    values = values_of({"bow": {"draw_weight": weight}})
    assert values["bow.draw_weight.lb"] == "45 lb"
    assert (values["bow.draw_weight.way"], values.get("bow.draw_weight.at")) == (way, at)


def test_a_curve_is_one_reading_a_line():
    data = load_yaml(EXAMPLES / "heron_marsh/rig.yaml").data
    values = values_of(data)
    values |= {
        "bow.draw_weight.way": "curve",
        "bow.draw_weight.curve": "10 5\n 20, 25\n28 1/4 in ; 47 lb\n",
    }
    rig = rig_check(values, data).rig
    assert rig.bow.draw_weight.curve == ((10, 5), (20, 25), (28.25, 47))
    again = values_of(yaml.safe_load(rig_check(values, data).text))
    assert rig_check(again, None).rig == rig


def posted(client, door, values, revision, **more):
    form = {**values, "token": door.token, "revision": revision, **more}
    return client.post("/rig", data=form, headers=ORIGIN)


def test_save_by_the_page(tmp_path):
    client, door = open_page(fill(tmp_path))
    revision = Reader(client.get("/rig").text).value("revision")
    values = values_of(load_yaml(tmp_path / "rig.yaml").data) | {"archer.draw_length": "72 cm"}
    assert posted(client, door, values, revision).status_code == 303
    assert load_rig(tmp_path / "rig.yaml").archer.draw_length_in == pytest.approx(72 / 2.54)
    # nothing else is another: comments, order and spelling stay
    former = (EXAMPLES / "heron_marsh/rig.yaml").read_text()
    assert "27 3/4 in  " in former
    assert (tmp_path / "rig.yaml").read_text() == former.replace("27 3/4 in  ", "72 cm  ")
    # and the former file is kept
    book = Workbook(tmp_path)
    assert book.read_kept(book.kept()[0]) == former


def test_a_fault_saves_nothing_and_keeps_every_answer(tmp_path):
    client, door = open_page(fill(tmp_path))
    before = (tmp_path / "rig.yaml").read_text()
    revision = Reader(client.get("/rig").text).value("revision")
    values = values_of(load_yaml(tmp_path / "rig.yaml").data)
    answer = posted(
        client,
        door,
        {**values, "archer.draw_length": "2 furlongs", "bow.limbs_id": "mine"},
        revision,
    )
    assert answer.status_code == 422
    page = Reader(answer.text)
    assert page.value("archer.draw_length") == "2 furlongs"
    assert page.value("bow.limbs_id") == "mine"
    assert "is not usable" in page.words
    assert (tmp_path / "rig.yaml").read_text() == before


def test_two_tabs_lose_nothing(tmp_path):
    client, door = open_page(fill(tmp_path))
    revision = Reader(client.get("/rig").text).value("revision")
    values = values_of(load_yaml(tmp_path / "rig.yaml").data)
    assert (
        posted(client, door, {**values, "bow.brace_height": "7 5/8 in"}, revision).status_code
        == 303
    )
    clash = posted(client, door, {**values, "bow.limbs_id": "second"}, revision)
    assert clash.status_code == 409
    page = Reader(clash.text)
    assert "saved elsewhere" in page.words
    assert "7 5/8 in" in page.words  # theirs is told
    assert page.value("bow.limbs_id") == "second"  # mine still stands in the form
    assert load_rig(tmp_path / "rig.yaml").bow.brace_height_in == 7.625
    book = Workbook(tmp_path)
    assert any("second" in (book.read_kept(name) or "") for name in book.kept())
    # pressing save again, now knowing, goes through
    again = posted(client, door, {**values, "bow.limbs_id": "second"}, page.value("revision"))
    assert again.status_code == 303
    assert load_rig(tmp_path / "rig.yaml").bow.limbs_id == "second"
    assert any("7 5/8" in (book.read_kept(name) or "") for name in book.kept())


def test_a_command_line_change_is_seen(tmp_path):
    client, door = open_page(fill(tmp_path))
    revision = Reader(client.get("/rig").text).value("revision")
    values = values_of(load_yaml(tmp_path / "rig.yaml").data)
    shutil.copy(EXAMPLES / "long_fen/rig.yaml", tmp_path / "rig.yaml")
    assert posted(client, door, values, revision).status_code == 409
    assert load_rig(tmp_path / "rig.yaml") == load_rig(EXAMPLES / "long_fen/rig.yaml")


def test_live_check(tmp_path):
    client, door = open_page(fill(tmp_path))
    values = values_of(load_yaml(tmp_path / "rig.yaml").data)
    revision = Reader(client.get("/rig").text).value("revision")
    headers = {**ORIGIN, "x-shaftwright-token": door.token}
    good = client.post("/rig/check", data={**values, "revision": revision}, headers=headers).json()
    assert good["faults"] == {}
    assert "stiffest" in good["told"]
    assert good["stands"]
    bad = client.post(
        "/rig/check", data={**values, "bow.brace_height": "70"}, headers=headers
    ).json()
    assert list(bad["faults"]) == ["bow.brace_height"]
    assert bad["faults"]["bow.brace_height"].startswith("70 is out of range; allowed: 3 to 12 in")
    assert not bad["stands"]


def test_a_broken_rig_file_is_shown_not_lost(tmp_path):
    (tmp_path / "rig.yaml").write_text("format: 1\nrig: [broken\n")
    client, door = open_page(tmp_path)
    assert client.get("/").status_code == 200
    page = Reader(client.get("/rig").text)
    values = values_of(load_yaml(EXAMPLES / "heron_marsh/rig.yaml").data)
    assert posted(client, door, values, page.value("revision")).status_code == 303
    book = Workbook(tmp_path)
    assert book.read_kept(book.kept()[0]) == "format: 1\nrig: [broken\n"
