"""The page of what a club's table teaches says how it was made, and the README quotes it as it stands."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = " ".join((ROOT / "docs" / "accuracy.md").read_text(encoding="utf-8").split())
README = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())


def test_the_page_says_how_it_was_made():
    assert re.search(
        r"\d{4}-\d\d-\d\d, shaftwright \S+, Python \S+, numpy \S+, seed \d+; \d+ clubs a world, \d+ rigs held out "
        r"in each; \d+ s of one core",
        PAGE,
    )
    for kind in ("taught by 10 rigs", "taught by 300 rigs", "taught by 300 rigs, a fifth false"):
        assert PAGE.count(f"| {kind} |") == 2


def test_the_readme_quotes_the_page_and_claims_no_more():
    page = re.search(
        r"half lie within ([\d.]+) % .*?weight alone (\d+) %, with the length rule (\d+) %.*?by 300 rigs ([\d.]+) %; with a "
        r"fifth of the reports false [\d.]+ and ([\d.]+) %",
        PAGE,
    )
    told = re.search(
        r"half of new rigs lie within (\d+) % .*?weight alone (\d+) %, with the length rule (\d+) %\); taught by 300 rigs, "
        r"(\d+) %, and (\d+) % with a fifth",
        README,
    )
    assert page is not None
    assert told is not None
    assert [round(float(x)) for x in page.groups()] == [int(x) for x in told.groups()]
    assert "No public table of tuned rigs has been found to validate the rules on" in README
