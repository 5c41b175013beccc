"""Parts named together that do not go together are told (common practice, no source)."""

import pytest

import shaftwright

#: opened once: what it is asked shares what its notebook taught
BOW = shaftwright.open("examples/heron_marsh", notebook_file="-")


def answer(command, parts):
    return getattr(BOW, command)({role: name for role, name in parts.items() if name})


def cautions(command, parts):
    return answer(command, parts).to_dict()["cautions"]


GOOD = {"shaft": "MARSH-400", "length": "30 in", "point": "P175", "insert": "I25"}
WOOD = {"shaft": "SPRUCE-1132-45", "length": "30 in", "point": "PW-1132-145"}


@pytest.mark.parametrize("command", ["build", "flight"])
@pytest.mark.parametrize(
    ("parts", "words"),
    [
        (GOOD | {"insert": None}, "P175 screws in, and a tube takes an insert for it: none is named, nor its weight counted"),
        (GOOD | {"point": "PW-1132-145"}, "PW-1132-145 does not go on MARSH-400: it is made for wood, the shaft is carbon"),
        (GOOD | {"point": None}, "no point is named"),
        (GOOD | {"insert": "I204-16"}, "I204-16 does not go on MARSH-400: it is made for a 0.204 in bore, not 0.246 in"),
        (GOOD | {"collar": "C310-20"}, "C310-20 leaves a step of 0.008 in"),
        (GOOD | {"insert": "AD-1132-40"}, "AD-1132-40 does not go on MARSH-400: it is made for wood"),
        (WOOD | {"point": "P125"}, "P125 screws in, and wood takes an adapter for it"),
        (WOOD | {"point": "PW-516-100"}, "PW-516-100 does not go on SPRUCE-1132-45: it is made for 0.312 in outside, not 0.344 in"),
        (WOOD | {"insert": "I25"}, "I25 does not go on SPRUCE-1132-45: it goes into a bore, and wood has none"),
    ],
)  # fmt: skip
@pytest.mark.slow
def test_parts_that_do_not_go_together_are_told(command, parts, words):
    told = answer(command, parts)
    assert any(words in caution for caution in told.to_dict()["cautions"])
    assert words in " ".join(str(told).split())


@pytest.mark.parametrize("command", ["build", "flight"])
@pytest.mark.parametrize(
    "parts",
    [
        GOOD,
        WOOD,
        WOOD | {"point": "P125", "insert": "AD-1132-40"},
        GOOD | {"shaft": "FEN-400", "insert": "O204-40"},
    ],
    ids=["insert", "glue-on", "adapter", "outsert"],
)
@pytest.mark.slow
def test_parts_that_go_together_pass_in_silence(command, parts):
    names = [n for n in parts.values() if not n.endswith(" in")]
    assert not any(name in caution for caution in cautions(command, parts) for name in names)


def test_the_insert_proposed_is_one_that_fits():
    (told,) = [
        c
        for c in cautions("build", {k: v for k, v in GOOD.items() if k != "insert"})
        if "screws in" in c
    ]
    proposed = told.rsplit(" ", 1)[1]
    assert not any("screws in" in c or proposed in c for c in cautions("build", GOOD | {"insert": proposed}))  # fmt: skip


def test_a_build_by_numbers_has_no_parts_to_judge():
    told = " ".join(cautions("build", {"spine_mils": 500, "length": 29, "front": 150}))
    assert "named" not in told
    assert "screws" not in told
