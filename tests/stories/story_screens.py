"""What a screen may look like: as long as can be read at the butt, in the archer's words, of one mind."""

import re

from story import said
from story_rigs import shop

#: lines a screen may have, the files it rests on counted: a line, and a blank one before it but after `next`
LONGEST = {"next": 12, "bareshaft": 25, "choose": 30, "shop": 45, "card": 40}
#: left column of the plan's list of words: not on a screen; what to type is no sentence
WORDS = [
    r"\bbuilds?\b", r"\bpieces?\b", r"\bfront mass\b", r"\bmass(es)?\b", r"can be tuned",
    r"middle at the short", r"some cut of it", r"\bmatch(es|ed)?\b", r"\brobust", r"\bahead (by|of)\b",
    r"mass is missing", r"\brings at\b", r"\bbuckles at\b", r"\bslug\b", r"\bheight first\b",
    r"removes up to", r"\btold\b", r"\breckon", r"\bperils?\b", r"\btaught\b", r"\bunread\b",
    r"\bactual(ly)?\b", r"\brequired?\b",
]  # fmt: skip
ORDER = re.compile(r"(Shoot|Cut|Buy|Make|Build|Start|Try|Use|Fit|Put|Take|Screw|Change)\b")
SHAFTS = sorted((r["item"] for r in shop() if r["kind"] == "shaft"), key=len, reverse=True)


def sentences(text):
    """Sentences and items of a screen, without what is to be typed."""
    text = re.sub(r"`?shaftwright [^\n`]*`?", "", text)
    paragraphs = re.split(r"\n\s*\n|\n(?=\s*[-!*] )", text)
    flat = (" ".join(p.split()).lstrip("-!* ") for p in paragraphs)
    return [s for p in flat for s in re.split(r"(?<=[.:;!?])\s+", p) if s]


def fit_to_read(face, text, plan):
    """Opens with the next thing; short, narrow, in the archer's words; orders no other arrow."""
    lines = text.rstrip("\n").split("\n")
    assert len(lines) + (1 if face == "next" else 2) <= LONGEST[face], f"{len(lines)} lines\n{text}"
    assert max(map(len, lines)) <= 80, max(lines, key=len)
    do = plan["next"]["do"].split()
    assert text.split()[: len(do)] == do, text
    prose = re.sub(r"`?shaftwright [^\n`]*`?|--[a-z-]+", "", text)
    slipped = [w for w in WORDS if re.search(w, prose, re.I)]
    assert not slipped, f"{slipped}\n{text}"
    allowed = said(plan["next"]) + str(plan["next"]["shaft"]) + str(plan["next"]["buy"])
    for sentence in filter(ORDER.match, sentences(text)):
        for shaft in (s for s in SHAFTS if re.search(rf"{s}(?![\w-])", sentence)):
            assert re.search(rf"{shaft}(?![\w-])", allowed), sentence
