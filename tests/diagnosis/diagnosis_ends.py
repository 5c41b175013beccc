"""Ends of bare shafts from the example bow, and what the product reads out of them."""

from shaftwright.answers.diagnose import diagnose
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY
from shaftwright.records.stock import Stock
from shaftwright.rules.sections import diagnosis_rules

RIG = load_rig("examples/heron_marsh/rig.yaml")
SHOP = load_stock("examples/heron_marsh/stock.csv")
FLETCHED = [[0.5, 0.0], [-1.5, 1.0], [1.0, -1.0]]
NAMES = {cause.code: cause.name for cause in diagnosis_rules().causes}


def owning(shop=SHOP, **parts):
    """The shop with only these in hand, so that no length has to be asked for; parts by name stay."""
    count = {name.replace("_", "-"): n for name, n in parts.items()}

    def hold(item):
        usual = 0 if item.kind == "shaft" else item.in_hand
        return item.model_copy(update={"in_hand": count.get(item.item, usual)})

    return Stock(tuple(hold(i) for i in shop.items), shop.name)


#: one MARSH-500; points of 125 and 175 gr, inserts of 25 and 100 gr
STOCK = owning(MARSH_500=1)


def shot(x=None, y=0.0, shaft="MARSH-500", length=30, point="P125", n=3, side=None, **more):
    """An end at 20 yd, `x` and `y` inches from the fletched; `side` is where the tails pointed."""
    build = {"shaft": shaft, "length": length, "point": point, "insert": "I25", "nock": "N246",
             "fletching": "F3x4"}  # fmt: skip
    data = {"kind": "bareshaft", "build": build, "distance": 20, "taped": True, "marks": "none",
            "cant_deg": 0}  # fmt: skip
    if x is not None:
        spread = [[-1.5, 0.6], [1.5, -0.6], [0.0, 0.0]][:n]
        tail = {"side": side} if side else None
        data["bare"] = [{"at": [x + dx, y + dy], "tail": tail} for dx, dy in spread]
        data["fletched"] = FLETCHED
    return ENTRY.validate_python(data | more)


def read(*entries, rig=RIG, stock=STOCK):
    """The diagnosis."""
    return diagnose(scenario(rig, stock=stock, entries=entries))


def then(*entries, rig=RIG, stock=STOCK):
    """The one next thing."""
    return scenario(rig, stock=stock, entries=entries).plan.next


def front_of(step, stock=SHOP):
    """What stands up front in the arrow of a step [gr]."""
    return sum(stock.by_name[n].mass_gr for n in (step.point, step.insert) if n)


def chances(found, axis="sideways"):
    """Cause by name -> chance."""
    return {NAMES[c.code]: c.chance for c in found.causes if c.axis == axis}


def top(found, axis="sideways"):
    """The likeliest cause."""
    told = chances(found, axis)
    return max(told, key=told.get)
