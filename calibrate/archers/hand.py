"""What one archer has in hand, what was paid, and what was made of it; nothing here asks the product."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from typing import Any

from archers.world import Arrow, World, number, row

Made = tuple[str, float, float]
NEAR = 1e-6


@dataclass
class Hand:
    """Pieces, parts and the count of what was done."""

    world: World
    #: of each shaft the lengths of its pieces, in the order they came; a piece keeps its number
    pieces: dict[str, list[float]] = field(default_factory=dict)
    parts: Counter[str] = field(default_factory=Counter)
    shafts_bought: int = 0
    spent: float = 0.0
    ends: int = 0
    broadhead_ends: int = 0
    changes: int = 0
    #: bought because told to shoot what was not there
    missing: list[str] = field(default_factory=list)
    #: every arrow at its setting, in the order of making
    made: list[Any] = field(default_factory=list)

    def buy(self, item: str, pieces: int) -> None:
        """So many pieces, in whole packs."""
        found = row(item)
        pack = int(found["pack"] or 1)
        packs = -(-pieces // pack)
        self.spent += packs * float(found["price"] or 0)
        if found["kind"] == "shaft":
            self.shafts_bought += packs * pack
            full = float(found["full_length_in"])
            self.pieces.setdefault(item, []).extend([full] * (packs * pack))
        else:
            self.parts[item] += packs * pack

    def in_hand(self, item: str) -> int:
        """How many pieces of an item are there."""
        return len(self.pieces[item]) if item in self.pieces else self.parts[item]

    def piece_for(self, shaft: str, length_in: float, other_than: int | None = None) -> int | None:
        """The piece that a length is made from: one of it, else the shortest long enough."""
        fit = [
            (length, number)
            for number, length in enumerate(self.pieces.get(shaft, []), 1)
            if length >= length_in - NEAR and number != other_than
        ]
        return min(fit)[1] if fit else None

    def make(self, arrow: Arrow, other_than: int | None = None) -> Arrow:
        """Make an arrow, buying what is not there; cut if need be; count it if it is another."""
        for part in (arrow.point, arrow.insert, arrow.collar, arrow.wrap):
            if part and not self.parts[part]:
                self.missing.append(part)
                self.buy(part, 1)
        found = self.piece_for(arrow.shaft, arrow.length_in, other_than)
        if found is None:
            self.missing.append(f"{arrow.shaft} {arrow.length_in:g}")
            self.buy(arrow.shaft, 1)
            found = len(self.pieces[arrow.shaft])
        self.pieces[arrow.shaft][found - 1] = arrow.length_in
        arrow = replace(arrow, piece=found)
        self.note_made(arrow)
        return arrow

    def note_made(self, arrow: Arrow) -> None:
        """Count a change where the arrow or the setting is another than the last."""
        now = self.world.setting
        key = (
            arrow.shaft, round(arrow.length_in * 16), round(arrow.front_gr), arrow.wrap,
            round(now.plate_in * 64), round(now.nocking_in * 64), now.spring, now.turns,
            round(now.out_in * 64),
        )  # fmt: skip
        if self.made and self.made[-1] != key:
            self.changes += 1
        if not self.made or self.made[-1] != key:
            self.made.append(key)

    @property
    def third_time(self) -> int:
        """Arrows at a setting that were made a third time after being left."""
        return sum(count >= 3 for count in Counter(self.made).values())

    def full_in(self, shaft: str) -> float:
        """Length as sold [in]."""
        return number(shaft, "full_length_in")
