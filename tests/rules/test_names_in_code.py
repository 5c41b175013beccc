"""Rules and cautions that the code asks for by name are there: renamed, they would be missed in silence."""

import re
from pathlib import Path

from shaftwright.rules.load import rulebook
from shaftwright.rules.sections import all_cautions

SOURCE = Path(__file__).resolve().parents[2] / "src" / "shaftwright"


def test_every_name_of_a_rule_in_the_code_is_one():
    text = "\n".join(p.read_text(encoding="utf-8") for p in SOURCE.rglob("*.py"))
    found = set(re.findall(r'book\.find\("([a-z-]+)"\)|"([a-z]+-(?:own|mass|length))"', text))
    asked = {name for pair in found for name in pair if name} - {
        "content-length"
    }  # of a page's head
    assert {
        "front-mass",
        "tail-mass",
        "shaft-length",
        "archer-own",
        "bow-own",
        "longer-draw",
    } <= asked
    assert asked <= {rule.name for rule in rulebook().rules}
    assert re.search(r'c\.name == "low-stretch-string"', text)
    assert "low-stretch-string" in {c.name for c in all_cautions()}
