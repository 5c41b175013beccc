"""Which bow a reading was taken with: what begins a period and what is only a setting, told as archers note it."""

import pytest

from shaftwright.inference.evidence.periods import (
    History,
    _labelled_other,
    alike,
    arrange,
    as_it_stood,
    in_order,
    of_rig,
    value_told,
)
from shaftwright.records.notebook import ENTRY, RigState
from shaftwright.records.rig import DrawWeight, Plunger, Rig

BUILD = {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8}


def rig(weight="47 lb", material="polyester", at="own_draw", **bow):
    return Rig.model_validate({
        "format": 1, "rig": "a", "archer": {"hand": "right", "release": "split", "draw_length": 28},
        "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": weight, "at": at}, "brace_height": 7.5,
                "window": {"cut": "to_centre"}, "rest": "shelf", **bow},
        "string": {"material": material},
    })  # fmt: skip


def state(**told):
    return RigState.model_validate(told)


def shot(reads="stiff", **told):
    more = {"rig_state": told} if told else {}
    return ENTRY.validate_python({"kind": "bareshaft", "build": BUILD, "distance": 20, "reads": reads, **more})  # fmt: skip


def change(what, note=None, **told):
    more = {"rig_state": told} if told else {}
    return ENTRY.validate_python({"kind": "change", "what": what, **({"note": note} if note else {}), **more})  # fmt: skip


def brace(inches, **more):
    return ENTRY.validate_python({"kind": "brace", "brace": inches, **more})


# --- order -----------------------------------------------------------------------------------------


def test_between_changes_content_decides_and_changes_stay_where_they_stand():
    a, b, c = shot("stiff"), shot("weak"), shot("straight")
    cut = change("plate")
    one, lines = in_order([b, a, cut, c], [1, 2, 3, 4])
    other, swapped = in_order([a, b, cut, c], [1, 2, 3, 4])
    assert one == other
    assert one[2:] == (cut, c)
    assert dict(zip(map(repr, one), lines, strict=True)) == {repr(b): 1, repr(a): 2, repr(cut): 3, repr(c): 4}  # fmt: skip
    assert sorted(swapped) == [1, 2, 3, 4]
    # the change itself comes after what stood before it, whatever their content
    assert in_order([c, cut])[0] == (c, cut)
    assert in_order([cut, c])[0] == (cut, c)


def test_dates_go_before_kinds_and_brace_readings_by_the_shots_on_the_string():
    late, early = shot().model_copy(update={"date": None}), brace(7.5)
    dated = ENTRY.validate_python({**BARE, "date": "2026-05-02"})
    earlier = ENTRY.validate_python({**BARE, "date": "2026-05-01"})
    assert in_order([dated, earlier, late])[0] == (late, earlier, dated)
    many, few, none = brace(7, shots_on=200), brace(8, shots_on=30), brace(9)
    assert in_order([many, few, none, early])[0] == (early, none, few, many)


BARE = {"kind": "bareshaft", "build": BUILD, "distance": 20, "reads": "stiff"}


def test_a_brace_reading_without_a_count_comes_before_the_first_shot():
    assert in_order([brace(7, shots_on=1), brace(9)])[0] == (brace(9), brace(7, shots_on=1))


def test_entries_without_a_line_have_line_nought():
    assert in_order([shot("weak"), shot("stiff")], [7])[1] in {(0, 7), (7, 0)}
    assert in_order([shot()])[1] == (0,)
    taken, _ = arrange(rig(), [shot("weak"), shot("stiff")], [7])
    assert [one.line for one in taken] == [7, 0]


# --- what a change is of ---------------------------------------------------------------------------


def kinds(*entries, of=None, before=None):
    return [kind for _, _, kind in History(of or rig(), entries, before).changes]


@pytest.mark.parametrize(
    ("what", "kind"),
    [("new limbs fitted", "limbs"), ("another bow", "limbs"), ("draw length", "draw_length"), ("Release", "release"),
     ("went to three under", "release"), ("string crawl", "crawl"), ("nock set", "nocking_point"), ("plunger in", "plunger"),
     ("a thicker plate", "plate"), ("two twists more", "brace"), ("tiller of the bolts", "tiller"), ("silencer off", "silencers"),
     ("a fresh string", "string"), ("glove", "other"), ("Plate", "plate"), ("nocking-point", "nocking_point"),
     ("bowstring", "string"), ("new bow string", "string"), ("bow quiver", "other"), ("elbow guard", "other"),
     ("arrowrest", "other"), (" riser ", "riser"), ("draw-length", "draw_length"), ("other", "other")],
)  # fmt: skip
def test_a_change_is_of_what_its_words_say(what, kind):
    assert kinds(change(what)) == [kind]


def test_free_words_with_other_limbs_or_weight_are_a_change_of_limbs():
    assert kinds(change("glove", limbs_id="b")) == ["limbs"]
    assert kinds(change("glove", draw_weight="47 lb")) == ["limbs"]
    assert kinds(change("glove", brace=8)) == ["other"]


def test_a_listed_change_that_names_other_limbs_than_before_is_of_limbs():
    first = shot(limbs_id="a-1")
    assert kinds(first, change("plate", limbs_id="b-2")) == ["limbs"]
    assert kinds(first, change("plate", limbs_id="a-1")) == ["plate"]
    assert kinds(change("plate", limbs_id="b-2")) == ["plate"]
    assert kinds(change("plate", limbs_id="b-2"), before=rig(limbs_id="a-1")) == ["limbs"]


@pytest.mark.parametrize(
    ("was", "now", "kind"),
    [("47 lb", "48 lb", "other"), ("47 lb", "48.1 lb", "draw_weight"), ("47 lb", "46 lb", "other"),
     ("47 lb", "45.9 lb", "draw_weight"), (None, "47 lb", "draw_weight"), ("47 lb", None, "draw_weight")],
)  # fmt: skip
def test_a_change_of_weight_counts_past_what_two_readings_of_one_scale_differ(was, now, kind):
    """A pound is what one scale may differ from itself (common practice, no source)."""
    first = [shot(draw_weight=was)] if was else [shot()]
    told = {"draw_weight": now} if now else {}
    assert kinds(*first, change("draw_weight", **told)) == [kind]


def test_another_setting_that_tells_the_weight_is_one_unless_the_weight_moved():
    first = shot(draw_weight="47 lb")
    assert kinds(first, change("tiller", draw_weight="47.5 lb")) == ["tiller"]
    assert kinds(first, change("tiller", draw_weight="50 lb")) == ["draw_weight"]
    assert kinds(change("tiller", draw_weight="50 lb")) == ["tiller"]
    assert kinds(first, change("tiller")) == ["tiller"]


def test_a_string_of_other_stuff_begins_a_period():
    def of(*entries, **more):
        return kinds(*entries, **more)[-1]

    poly = shot(string_material="polyester")
    assert of(poly, change("string", string_material="low_stretch")) == "material"
    assert of(poly, change("string", string_material="polyester")) == "string"
    assert of(change("string", string_material="polyester")) == "material"
    assert of(change("string"), before=rig(material="low_stretch")) == "material"
    # in words of one's own too, where the material is stated
    assert of(poly, change("a new string", string_material="low_stretch")) == "material"
    assert of(poly, change("a new string", string_material="polyester")) == "string"
    assert of(change("string"), before=rig()) == "string"
    assert of(change("string", "from polyester to low-stretch")) == "material"
    assert of(change("string", "Low_Stretch after polyester")) == "material"
    assert of(change("string", "polyester again")) == "string"
    assert of(change("string", "low stretch again")) == "string"
    assert of(change("string")) == "string"
    assert of(change("plate", "from polyester to low-stretch")) == "plate"


# --- periods ---------------------------------------------------------------------------------------


def test_periods_count_the_changes_after_a_reading_that_are_no_settings():
    entries = [shot(), change("limbs"), shot(), change("plate"), shot(), change("crawl"), shot()]
    history = History(rig(), entries)
    assert [history.period(i) for i in (0, 2, 4, 6)] == [2, 1, 1, 0]
    assert history.last_limbs == 1
    assert History(rig(), [shot()]).last_limbs == -1
    assert History(rig(), [shot(), change("draw_weight"), shot()]).last_limbs == 1
    assert History(rig(), [change("limbs"), change("crawl"), change("limbs")]).last_limbs == 2


@pytest.mark.parametrize(
    ("told", "period"),
    [({"draw_weight": "47.5 lb"}, 0), ({"draw_weight": "50 lb"}, 1), ({"string_material": "low_stretch"}, 1),
     ({"string_material": "polyester"}, 0), ({"brace": 9}, 0), ({}, 0)],
)  # fmt: skip
def test_a_reading_of_another_weight_or_string_stuff_is_of_an_older_bow(told, period):
    assert History(rig(), [shot(**told)]).period(0) == period
    curve = rig("47 lb", at=27.0)
    assert History(curve, [shot(draw_weight="60 lb")]).period(0) == 0  # nobody says at the own draw


def test_what_stood_before_a_change_is_filled_in_but_not_the_string():
    entries = [shot(plate=0.0625, string="A"), shot(), change("plate", plate=0.125), change("string", string="B"),
               shot(), shot(plate=0.25)]  # fmt: skip
    history = History(rig(), entries)
    assert history.state(0).plate_in == 0.0625
    assert history.state(1).plate_in == 0.0625
    assert history.state(1).string is None
    assert history.state(4).plate_in is None
    assert history.state(5).plate_in == 0.25
    untold = History(rig(), [shot(), change("plate", plate=0.125)])
    assert untold.state(0) == RigState()
    assert untold.known == [{}]


def test_a_change_of_something_else_fills_nothing_in():
    history = History(rig(), [shot(plate=0.0625), shot(), change("crawl"), shot()])
    assert history.state(1) == RigState()


def test_the_first_change_after_a_reading_tells_what_stood_then():
    entries = [shot(), change("plate", plate=0.125), change("plate", plate=0.25)]
    assert History(rig(), entries).state(0).plate_in is None
    known = [shot(plate=0.0625), *entries]
    assert History(rig(), known).state(1).plate_in == 0.0625


def test_settings_are_those_told_otherwise_than_now():
    now = rig(plate={"thickness": 0.0625}, tiller=0.25)
    assert History(now, [shot()]).setting(0) == ()
    assert History(now, [shot(plate=0.0625, tiller=0.25, brace=7.6)]).setting(0) == ()
    told = History(now, [shot(plate=0.125, tiller=0, brace=8)]).setting(0)
    assert told == (("brace", "8 in"), ("plate", "1/8 in"), ("tiller", "0 in"))
    # what the rig file does not tell cannot be told otherwise
    assert History(now, [shot(nocking_point=0.5)]).setting(0) == ()


def test_a_later_change_of_a_setting_is_told_where_nobody_says_what_stood():
    entries = [
        shot(),
        change("nocking_point"),
        shot(),
        change("glove_off"),
        change("plate"),
        shot(),
    ]
    history = History(rig(), entries)
    assert history.setting(0) == (
        ("plate", "before its change"), ("nocking point", "before its change"), ("glove off", "before its change"),
    )  # fmt: skip
    assert history.setting(2) == (("plate", "before its change"), ("glove off", "before its change"))  # fmt: skip
    assert history.setting(5) == ()


def test_strings_go_by_the_label_of_the_last_change_that_names_one():
    entries = [shot(string="A"), change("string", string="B"), change("plate", plate=0.1), shot(string="A"),
               shot(string="B"), shot()]  # fmt: skip
    history = History(rig(), entries)
    named = [dict(history.setting(i)).get("string") for i in (0, 3, 4, 5)]
    assert named == ["A", "A", None, None]
    assert dict(History(rig(), [shot(string="A")]).setting(0)).get("string") is None


# --- what the rig says, and what is alike ----------------------------------------------------------


def test_what_a_rig_file_says():
    weighed = DrawWeight(lb=47, at="own_draw")
    assert of_rig(rig()) == {"draw_weight": weighed, "brace_height_in": 7.5, "string_material": "polyester"}  # fmt: skip
    assert of_rig(rig(at=27.0))["draw_weight"] == DrawWeight(lb=47, at=27.0)
    whole = of_rig(rig(brace_height="unknown", plate={"thickness": 0.1}, nocking_point={"above_square": 0.5}, limbs_id="a",
                       plunger={"turns": 2}, tiller=0.25, rest="plunger"))  # fmt: skip
    assert whole == {"draw_weight": weighed, "plate_in": 0.1, "nocking_point_in": 0.5, "limbs_id": "a", "tiller_in": 0.25,
                     "plunger": Plunger(turns=2), "string_material": "polyester"}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "apart"), [("brace_height_in", 0.25), ("lb", 1.0), ("plate_in", 0.016)]
)
def test_lengths_and_weights_are_alike_to_what_archers_can_set(name, apart):
    assert alike(name, 1.0, 1.0 + apart)
    assert alike(name, 1.0 + apart, 1)
    assert not alike(name, 1.0, 1.0 + apart + 0.001)
    assert not alike(name, 1.0 + apart + 0.001, 1.0)


def test_weights_told_at_one_draw_begin_a_period_and_those_of_two_cannot_be_compared():
    marked = rig("50 lb", at=28.0)
    at_28 = {"lb": 42, "at": "28 in"}
    taken, _ = arrange(marked, [shot(draw_weight=at_28), shot(draw_weight="42 lb"), shot()])
    assert [one.period for one in taken] == [1, 0, 0]
    assert [one.rig.bow.draw_weight.at for one in taken] == [28, "own_draw", 28]

    def begun(*entries):
        return [kind for _, _, kind in History(marked, entries).changes]

    assert begun(shot(draw_weight="50 lb at 28 in"), change("plate", draw_weight=at_28)) == [
        "draw_weight"
    ]
    assert begun(shot(draw_weight="50 lb"), change("plate", draw_weight=at_28)) == ["plate"]
    assert begun(shot(draw_weight="42.5 lb @ 28 in"), change("draw_weight", draw_weight=at_28)) == [
        "other"
    ]


def test_a_weight_is_written_as_it_is_read():
    for said in (42.0, {"lb": 42.0, "at": 28.0}):
        told = state(draw_weight=said)
        assert told.model_dump(exclude_none=True, mode="json") == {"draw_weight": said}
    assert state(draw_weight="42 lb at own draw") == state(draw_weight="42")


def test_words_are_alike_where_they_are_the_same_and_plungers_by_what_is_stated():
    assert alike("limbs_id", "a", "a")
    assert not alike("limbs_id", "a", "b")
    assert not alike("limbs_id", 1.0, "1.0")
    soft = Plunger(spring="soft", turns=2)
    assert alike("plunger", Plunger(turns=2), soft)
    assert not alike("plunger", soft, Plunger(turns=2))
    assert not alike("plunger", Plunger(turns=3), soft)
    assert not alike("plunger", Plunger(turns=2, spring="stiff"), soft)


def test_values_in_an_archers_words():
    assert value_told(0.09375) == "3/32 in"
    assert value_told(8) == "8 in"
    assert value_told("soft") == "soft"
    assert value_told(Plunger(spring="soft")) == "soft"
    whole = Plunger(spring="stiff", turns=1.5, out_in=0.03125, moved_in=-0.0625)
    assert value_told(whole) == "stiff, 1.5 turns, 1/32 in out, moved -1/16 in"


def test_limbs_are_others_by_their_label():
    assert not _labelled_other(state(), rig(limbs_id="a"), None)
    assert not _labelled_other(state(limbs_id="a"), rig(limbs_id="a"), None)
    assert _labelled_other(state(limbs_id="b"), rig(limbs_id="a"), None)
    assert not _labelled_other(state(limbs_id="b"), rig(), None)
    assert _labelled_other(state(limbs_id="b"), rig(), rig(limbs_id="b"))
    assert not _labelled_other(state(limbs_id="a"), rig(), rig(limbs_id="b"))


# --- the rig of that day ---------------------------------------------------------------------------


def test_a_state_that_says_nothing_leaves_the_rig_the_same_object():
    one = rig()
    assert as_it_stood(one, RigState()) is one
    assert as_it_stood(one, state(string="A")) is one


def test_what_is_stated_takes_the_rigs_place_and_the_rest_stays():
    one = rig(plate={"thickness": 0.0625, "material": "leather"}, nocking_point={"above_square": 0.5, "locators": 2},
              plunger={"spring": "soft", "moved": 0.1}, rest="plunger")  # fmt: skip
    was = as_it_stood(one, state(plate=0.125, nocking_point=0.25, brace=8, tiller=0.1, limbs_id="b", release="three_under",
                                 string_material="low_stretch", draw_weight="50 lb", draw_length=27))  # fmt: skip
    assert (was.bow.plate.thickness_in, was.bow.plate.material) == (0.125, "leather")
    assert (was.bow.nocking_point.above_square_in, was.bow.nocking_point.locators) == (0.25, 2)
    assert (was.bow.brace_height_in, was.bow.tiller_in, was.bow.limbs_id) == (8, 0.1, "b")
    assert (was.archer.release, was.archer.draw_length_in) == ("three_under", 27)
    assert was.string.material == "low_stretch"
    assert (was.bow.draw_weight.lb, was.bow.draw_weight.at) == (50, "own_draw")
    assert was.bow.plunger == one.bow.plunger
    bare = as_it_stood(rig(), state(plate=0.125, nocking_point=0.25))
    assert (bare.bow.plate.material, bare.bow.nocking_point.locators) == ("unknown", None)
    assert bare.string == rig().string
    assert bare.archer == rig().archer


def test_a_plungers_measured_place_ends_what_was_moved_since():
    one = rig(plunger={"spring": "soft", "turns": 2, "moved": 0.1}, rest="plunger")

    def plunger(of, **told):
        return as_it_stood(of, state(plunger=told)).bow.plunger

    assert plunger(one, turns=3) == Plunger(spring="soft", turns=3, moved_in=0.1)
    assert plunger(one, out=0.2) == Plunger(spring="soft", turns=2, out_in=0.2)
    assert plunger(one, out=0.2, moved=0.05).moved_in == 0.05
    assert plunger(rig(), turns=3) == Plunger(turns=3)


def test_another_draw_length_leaves_the_weight_at_todays():
    was = as_it_stood(rig(), state(draw_length=27)).bow.draw_weight
    assert (was.lb, was.at) == (47, 28)
    marked = as_it_stood(rig(at=26.0), state(draw_length=27)).bow.draw_weight
    assert marked.at == 26
    assert as_it_stood(rig(), state(brace=8)).bow.draw_weight.at == "own_draw"


# --- arranged --------------------------------------------------------------------------------------


def test_readings_get_period_rig_and_setting_and_other_entries_are_passed_over():
    entries = [brace(7.5), shot(), change("plate"), shot(brace=8), shot("weak", brace=8)]
    taken, warnings = arrange(rig(), entries, [1, 2, 3, 4, 5])
    assert warnings == []
    assert [(t.line, t.period, t.other_limbs, t.silent) for t in taken] == [
        (2, 0, False, False), (4, 0, False, False), (5, 0, False, False)]  # fmt: skip
    assert [t.setting for t in taken] == [(("plate", "before its change"),), *[(("brace", "8 in"),)] * 2]  # fmt: skip
    assert taken[1].rig is taken[2].rig is not taken[0].rig
    assert taken[1].rig.bow.brace_height_in == 8


def test_other_limbs_teach_only_where_their_weight_or_their_rig_is_known():
    entries = [shot(), shot(draw_weight="40 lb"), change("limbs"), shot()]
    taken, warnings = arrange(rig(), entries, [1, 2, 3, 4])
    assert [(t.period, t.other_limbs, t.silent) for t in taken] == [
        (1, True, True), (1, True, False), (0, False, False)]  # fmt: skip
    assert len(warnings) == 1
    assert warnings[0].startswith("line 1: shot with other limbs whose draw weight is not stated")
    old = rig("40 lb")
    taken, warnings = arrange(rig(), entries, [1, 2, 3, 4], old)
    assert warnings == []
    assert [t.rig.bow.draw_weight.lb for t in taken] == [40, 40, 47]
    assert not any(t.silent for t in taken)


def test_a_label_of_other_limbs_makes_an_old_period_without_a_change():
    taken, warnings = arrange(rig(limbs_id="a"), [shot(limbs_id="b", draw_weight="40 lb"), shot()])
    assert [(t.period, t.other_limbs) for t in taken] == [(1, True), (0, False)]
    assert warnings == []
    assert taken[0].rig.bow.draw_weight.lb == 40


def test_a_label_of_the_old_rigs_limbs_alone_makes_it_the_period_before():
    old = rig("40 lb", limbs_id="b")
    taken, _ = arrange(rig(limbs_id="a"), [shot(limbs_id="b"), shot()], before=old)
    assert [(t.period, t.other_limbs, t.silent) for t in taken] == [(1, True, False), (0, False, False)]  # fmt: skip
    twice = [shot(limbs_id="b"), change("limbs"), change("limbs"), shot()]
    assert [t.period for t in arrange(rig(limbs_id="a"), twice, before=old)[0]] == [2, 0]
