"""Entries of a notebook from few words, for the example bow held upright."""

from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock

EXAMPLE = load_rig("examples/heron_marsh/rig.yaml")
SHOP = load_stock("examples/heron_marsh/stock.csv")


def rig_with(purpose="practice", hand="right", **bow):
    """The example's rig for another purpose or hand, or with a part of the bow changed."""
    data = EXAMPLE.model_dump(by_alias=True, exclude_none=True, mode="json")
    data["purpose"] = purpose
    data["archer"]["hand"] = hand
    data["bow"] |= {"cant_deg": 0} | bow
    data["bow"] = {k: v for k, v in data["bow"].items() if v is not None}
    return Rig.model_validate(data)


def owning(**parts):
    """The example's shop with only these shafts in hand; other parts as they are."""
    count = {name.replace("_", "-"): n for name, n in parts.items()}

    def hold(item):
        usual = 0 if item.kind == "shaft" else item.in_hand
        return item.model_copy(update={"in_hand": count.get(item.item, usual)})

    return Stock(tuple(hold(i) for i in SHOP.items), SHOP.name)


def build(shaft="MARSH-500", length=30, point="P175", **parts):
    """An arrow by the names of the shop."""
    wood = shaft.startswith("SPRUCE")
    rest = {"insert": "I25", "nock": "N246"} if not wood else {"nock": "NW-1132"}
    return {"shaft": shaft, "length": length, "point": point, "fletching": "F3x4"} | rest | parts


def end(
    weak=0.0,
    up=0.0,
    *,
    yd=20,
    hand="right",
    spread=1.0,
    bare=3,
    fletched=3,
    tails="straight",
    **more,
):
    """An end of bare shafts beside fletched ones; `weak` and `up` in inches at 20 yd."""
    way, far = (1 if hand == "right" else -1), yd / 20
    about = [[-1.0, 0.6], [1.0, -0.6], [0.0, 0.0]]
    tail = {"side": tails} if tails else None
    data = {
        "kind": "bareshaft", "distance": yd, "taped": True, "marks": "none",
        "fletched": [[-x * spread * far, y * spread * far] for x, y in about[:fletched]],
        "bare": [{"at": [far * (way * weak + x * spread), far * (up + y * spread)], "tail": tail}
                 for x, y in about[:bare]],
    }  # fmt: skip
    if fletched == 2:  # their centre stays where it is
        data["fletched"] = [[-far * spread, 0], [far * spread, 0]]
    if bare == 1:
        data["bare"] = [{"at": [far * way * weak, far * up], "tail": tail}]
    if bare == 2:
        data["bare"] = [{"at": [far * (way * weak + x), far * up], "tail": tail} for x in (-1, 1)]
    parts = {k: more.pop(k) for k in ("shaft", "length", "point", "insert") if k in more}
    return entry({"build": build(**parts)} | data | more)


def words(reads, nock="straight", **more):
    """An end told in words."""
    parts = {k: more.pop(k) for k in ("shaft", "length", "point") if k in more}
    return entry({"kind": "bareshaft", "build": build(**parts), "distance": 20, "taped": True,
                  "marks": "none", "reads": reads, "nock": nock} | more)  # fmt: skip


def heads(off=0.0, **more):
    """Broadheads beside field points, so many inches to the right."""
    parts = {k: more.pop(k) for k in ("shaft", "length") if k in more}
    return entry({"kind": "broadhead", "distance": 20, "fletched": [[0, 0], [1, 1], [-1, -1]],
                  "build": {k: v for k, v in build(**parts).items() if k != "point"} | {"broadhead": "B175"},
                  "broadhead": [[off, 0], [off + 1, 0], [off - 1, 0]]} | more)  # fmt: skip


def change(what, **state):
    """A change of the bow."""
    return entry({"kind": "change", "what": what} | ({"rig_state": state} if state else {}))


def have(item, count, length=None, **more):
    """So many in hand."""
    long = {} if length is None else {"length": length}
    return entry({"kind": "have", "item": item, "count": count} | long | more)


def entry(data):
    """As the file has it."""
    return ENTRY.validate_python(data)


def asked(*entries, rig=None, stock=None):
    """Everything known."""
    return scenario(rig or rig_with(), stock=stock or owning(MARSH_500=1), entries=entries)


def standing(*entries, **more):
    """Where the best of the arrows stands."""
    return asked(*entries, **more).plan.shot[0].standing
