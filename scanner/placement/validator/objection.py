"""What the judge has against a layout, as a value: which rule, whom it concerns, in which words."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

from scanner.placement.layout import Placement

# A part's name and which copy of it; None where all copies of its row are meant.
PartCopy = tuple[str, int | None]


class Rule(StrEnum):
    """What a layout has to keep to."""

    NAMES = "parts and boards are there"
    SIZE = "a part has its size"
    EQUAL = "sizes that give are equal where asked"
    ANGLE = "a part is turned only as asked"
    SHOW_FACE = "the face that shows is said where one shows"
    ALLOWED = "a part comes from a board that it may come from"
    WOOD = "a part lies on wood"
    MARGIN = "a part keeps off the edges"
    TRIM = "a part keeps off what an end loses"
    FLAW = "a part keeps off flaws that it may not have"
    SAPWOOD = "a part keeps off sapwood that it may not have"
    THICKNESS = "a part is thick enough when flat"
    KERF = "a kerf lies between two parts"
    COPIES = "no copy is placed twice, no more than asked for"
    UNPLACED = "what is not placed is said, with its reason"
    SET = "a matched set lies together"
    STAVES = "a panel has its staves"
    SLICES = "slices share a blank that is thick enough"
    NEST = "nested curves keep apart"
    OFFCUT = "a left-over is clear wood"
    SHOP = "cut class and kerf are the shop's"
    PIECE = "pieces hold their parts"
    CUT = "the cuts free every part"
    SUMMARY = "the summary says what is"
    BOUND = "the bound holds, and the gap is the gap to it"
    LOOKED_OVER = "boards that nobody looked over are named"


@dataclass(frozen=True, slots=True)
class Objection:
    """One thing that the judge has against a layout; ``str`` of it is its sentence.

    ``words`` is the sentence, or what follows the part's name and place where it is ``of`` one
    placed part. ``parts`` names whom it concerns; nobody, where the layout as a whole is wrong.
    """

    rule: Rule
    words: str
    board: str | None = None
    parts: tuple[PartCopy, ...] = ()
    of: Placement | None = None

    @classmethod
    def to(cls, p: Placement, rule: Rule, words: str, *others: Placement) -> Self:
        """Return an objection to one placed part, which may concern others of its board."""
        return cls(rule, words, p.board, copies_of(p, *others), p)

    def __str__(self) -> str:
        if self.of is None:
            return self.words
        p = self.of
        return f"{p.board}: {p.part} {p.copy} at ({p.x_mm:.1f}, {p.y_mm:.1f}) {self.words}"

    def said(self, called: Callable[[str, int], str]) -> str:
        """Return its sentence with every copy that it concerns under the name people know.

        The judge numbers each copy, whatever it is called; ``called`` says what name and number
        make.
        """
        known = {f"{name} {copy}": called(name, copy) for name, copy in self.parts if copy}
        if not known:
            return str(self)
        # The longer first: a part may be called as another one's copy.
        names = "|".join(re.escape(name) for name in sorted(known, key=len, reverse=True))
        return re.sub(rf"(?<!\w)(?:{names})(?!\w)", lambda met: known[met[0]], str(self))

    def concerns(self, p: Placement) -> bool:
        """Whether a placed part is among those whom the objection names."""
        return self.board in (None, p.board) and any(
            name == p.part and copy in (None, p.copy) for name, copy in self.parts
        )


def copies_of(*placements: Placement) -> tuple[PartCopy, ...]:
    """Return part and copy of each placement."""
    return tuple((p.part, p.copy) for p in placements)


def rows_of(*names: str) -> tuple[PartCopy, ...]:
    """Return all copies of each part of these names."""
    return tuple((name, None) for name in names)
