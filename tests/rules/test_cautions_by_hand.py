"""Cautions and signs made for the purpose: due where every condition holds, gravest first; chances that sum to one."""

from types import SimpleNamespace

import pytest

from shaftwright.inference.notebook_rig import rig_now
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Plunger, Rig
from shaftwright.rules import sections as cautions
from shaftwright.rules.sections import (
    DiagnosisRules,
    Prior,
    cautions_for,
    cautions_naming,
    start_points,
)


def caution(name, severity="info", **when):
    told = {key.replace("__", "."): value for key, value in when.items()}
    return SimpleNamespace(name=name, severity=severity, when=told or "always")


@pytest.fixture
def file(monkeypatch):
    told = (
        caution("always"), caution("hunts", "caution", purpose=("hunting",)),
        caution("carbon", "danger", shaft__material=("carbon",)), caution("soft", string__material=("polyester",)),
        caution("both", "caution", purpose=("hunting", "target"), string__material=("low_stretch", "unknown")),
        caution("nowhere", bow__colour=("red",)), caution("nothing", bow__colour=("None",)),
    )  # fmt: skip
    monkeypatch.setattr(cautions, "all_cautions", lambda: told)


def rig(material="polyester", kind="recurve", release="split", **bow):
    return Rig.model_validate({
        "format": 1, "rig": "a", "archer": {"hand": "right", "release": release, "draw_length": 28},
        "bow": {"kind": kind, "limbs": "standard", "draw_weight": {"lb": 47, "at": "own_draw"}, "brace_height": 7.5,
                "window": {"cut": "to_centre"}, "rest": "shelf", **bow},
        "string": {"material": material},
    })  # fmt: skip


@pytest.mark.parametrize(
    ("material", "purpose", "shafts", "due"),
    [
        ("polyester", "target", [], ["always", "soft", "nothing"]),
        ("polyester", "hunting", ["wood", "carbon"], ["carbon", "hunts", "always", "soft", "nothing"]),
        ("low_stretch", "target", ["wood"], ["both", "always", "nothing"]),
        ("unknown", "hunting", [], ["hunts", "both", "always", "nothing"]),
        ("unknown", "three_d", [], ["always", "nothing"]),
    ],
)  # fmt: skip
def test_a_caution_is_due_where_all_its_conditions_hold(file, material, purpose, shafts, due):
    assert [c.name for c in cautions_for(rig(material), purpose, shafts)] == due


def test_cautions_that_hang_on_one_field_alone(file):
    assert [c.name for c in cautions_naming("string.material", "polyester")] == ["soft"]
    assert cautions_naming("string.material", "unknown") == []
    assert [c.name for c in cautions_naming("purpose", "hunting")] == ["hunts"]


# --- signs -----------------------------------------------------------------------------------------


def test_a_prior_is_a_chance_or_the_band():
    assert Prior(chance=0.0).chance == 0
    assert Prior(band="stiff").band == "stiff"
    for bad in ({}, {"chance": 0.5, "band": "stiff"}):
        with pytest.raises(ValueError, match="needs chance or band, and only one"):
            Prior(**bad)


def signs(base=(0.25, 0.75), odds=(0.5, 0.5), name="tail", words=("left", "right")):
    return {"format": 1, "signs": {"tail": dict(zip(("left", "right"), base, strict=True))}, "causes": [{
        "code": "A01", "name": "a-cause", "axis": "sideways", "label": "a", "prior": {"chance": 0.5}, "check": "c",
        "signs": {name: dict(zip(words, odds, strict=True))}, "basis": "recalled", "source": []}]}  # fmt: skip


def test_chances_of_a_sign_sum_to_one_for_every_cause():
    assert DiagnosisRules.model_validate(signs()).causes[0].signs["tail"]["left"] == 0.5
    assert DiagnosisRules.model_validate(signs(odds=(0.3, 0.7 + 1e-12)))
    for told, says in (
        ({"base": (0.25, 0.74)}, "chances of tail that sum to 1"), ({"base": (0.25, 0.76)}, "chances of tail that sum to 1"),
        ({"odds": (0.5, 0.49)}, "A01: the chances of tail do not sum to 1"), ({"odds": (0.5, 0.51)}, "do not sum to 1"),
        ({"odds": (0.5, 0.5 + 1e-6)}, "do not sum to 1"), ({"base": (0.25, 0.75 - 1e-6)}, "that sum to 1"),
        ({"name": "nose"}, "A01: nose is not a sign of the list"), ({"words": ("left", "up")}, "or its values differ"),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=says):
            DiagnosisRules.model_validate(signs(**told))


def test_start_points_take_both_ranges_where_the_fingers_are_not_told():
    split, under, unknown = (
        start_points(rig(release=r)) for r in ("split", "three_under", "unknown")
    )
    assert (unknown.nocking_low_in, unknown.nocking_high_in) == (
        min(split.nocking_low_in, under.nocking_low_in),
        max(split.nocking_high_in, under.nocking_high_in),
    )
    assert (split.nocking_low_in, split.nocking_high_in) != (
        under.nocking_low_in,
        under.nocking_high_in,
    )
    machine = start_points(rig(release="mechanical"))
    assert (machine.nocking_low_in, machine.nocking_high_in) == (
        split.nocking_low_in,
        split.nocking_high_in,
    )
    assert (split.brace_low_in, split.brace_high_in) == (7, 8.5)
    assert start_points(rig(kind="longbow")).brace_high_in == 7.5


# --- the bow as it stands --------------------------------------------------------------------------


def change(what="limbs", **told):
    return ENTRY.validate_python({"kind": "change", "what": what, "rig_state": told})


def shot(**told):
    return ENTRY.validate_python({"kind": "bareshaft", "build": {"spine": 500, "length": 29, "front": 150}, "distance": 20,
                                  "reads": "stiff", "rig_state": told})  # fmt: skip


def test_the_notebook_counts_where_the_file_was_not_edited_since():
    now, remarks = rig_now(rig(), [change(draw_weight="43.5 lb")])
    assert now.bow.draw_weight.lb == 43.5
    assert remarks == ("the notebook's last change says draw weight 43.5 lb, the rig file 47 lb: the notebook counts; "
                       "write it into rig.yaml",)  # fmt: skip
    now, remarks = rig_now(rig(), [shot(draw_weight="47 lb"), change(draw_weight="43.5 lb")])
    assert now.bow.draw_weight.lb == 43.5


def test_a_file_that_says_neither_was_edited_since_and_counts():
    one = rig()
    now, remarks = rig_now(one, [shot(draw_weight="40 lb"), change(draw_weight="43.5 lb")])
    assert now is one
    assert remarks == (
        "the notebook's last change says draw weight 43.5 lb, the rig file 47 lb: the rig file counts",
    )
    twice = [shot(draw_weight="40 lb"), change(draw_weight="47 lb"), change(draw_weight="50 lb")]
    assert rig_now(one, twice)[0].bow.draw_weight.lb == 50


def test_a_brace_height_that_was_changed_counts_also_where_the_file_says_none():
    now, remarks = rig_now(rig(), [change("brace", brace="9 in")])
    assert now.bow.brace_height_in == 9
    assert "brace height 9 in, the rig file" in remarks[0]
    # a reading is no change: it creeps
    assert rig_now(rig(), [shot(brace="9 in")])[0].bow.brace_height_in == rig().bow.brace_height_in
    unknown = rig(brace_height="unknown")
    now, remarks = rig_now(unknown, [change("brace", brace="8 in")])
    assert now.bow.brace_height_in == 8
    assert "the rig file nothing: the notebook counts" in remarks[0]


def test_a_weight_noted_before_the_draw_changed_was_weighed_at_the_draw_of_then():
    changes = [
        change(draw_weight="53 lb at own draw"),
        change("draw_length", draw_length="28.75 in"),
    ]
    now = rig_now(rig(), changes)[0]
    assert (now.archer.draw_length_in, now.bow.draw_weight.lb, now.bow.draw_weight.at) == (
        28.75,
        53,
        28,
    )
    # weighed after it, or together with it, at the draw of now
    for later in (changes[::-1], [change(draw_weight="53 lb at own draw", draw_length="28.75 in")]):
        assert rig_now(rig(), later)[0].bow.draw_weight.at == "own_draw"


def test_what_agrees_or_is_not_in_the_file_is_no_remark():
    one = rig()
    assert rig_now(one, [change(draw_weight="47.5 lb")]) == (one, ())
    assert rig_now(one, [change(limbs_id="b")]) == (one, ())
    # a file that tells its weight at another draw than the last change
    now, remarks = rig_now(one, [change(draw_weight="43.5 lb at 29 in")])
    assert (now.bow.draw_weight.lb, now.bow.draw_weight.at) == (43.5, 29)
    assert remarks[0].startswith("the notebook's last change says draw weight 43.5 lb at 29 in")
    both = [shot(draw_weight="40 lb at 29 in"), change(draw_weight="43.5 lb at own draw")]
    assert rig_now(one, both)[0].bow.draw_weight.lb == 43.5
    assert rig_now(one, [shot(draw_weight="40 lb")]) == (one, ())


def test_words_and_lengths_read_as_archers_write_them():
    one = rig(limbs_id="a", plate={"thickness": 0.0625}, plunger={"turns": 2}, rest="plunger")
    told = [change(limbs_id="b"), change("plate", plate=0.125), change("plunger", plunger={"turns": 3}),
            change("string", string_material="low_stretch")]  # fmt: skip
    now, remarks = rig_now(one, told)
    assert [r.partition(":")[0] for r in remarks] == [
        "the notebook's last change says limbs b, the rig file a",
        "the notebook's last change says plate 1/8 in, the rig file 1/16 in",
        "the notebook's last change says plunger 3 turns, the rig file 2 turns",
        "the notebook's last change says string material low stretch, the rig file polyester",
    ]  # fmt: skip
    assert (now.bow.limbs_id, now.bow.plate.thickness_in, now.string.material) == (
        "b",
        0.125,
        "low_stretch",
    )
    assert now.bow.plunger == Plunger(turns=3)
