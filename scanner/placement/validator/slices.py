"""The validator's own view of bookmatched sets: slices of one blank that is thick enough."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.placement.validator.ground import thickness_left_mm
from scanner.placement.validator.limits import TOLERANCE_MM
from scanner.placement.validator.objection import (
    Objection,
    Rule,
    copies_of,
)

# 1/8 in of each slice goes into its two faces (trade magazine on resawing).
_FACES_MM = 3.2


def one_of_each_blank(placements: Iterable[Placement]) -> list[Placement]:
    """Return the placements without the further slices of a blank: what saws see from above."""
    found: list[Placement] = []
    for p in placements:
        if p.layer is None or not any(_share_a_blank(p, q) for q in found):
            found.append(p)
    return found


def _share_a_blank(p: Placement, q: Placement) -> bool:
    return (
        p.layer is not None
        and q.layer is not None
        and p.board == q.board
        and abs(p.x_mm - q.x_mm) < TOLERANCE_MM
        and abs(p.y_mm - q.y_mm) < TOLERANCE_MM
        and abs(p.length_mm - q.length_mm) < TOLERANCE_MM
        and abs(p.width_mm - q.width_mm) < TOLERANCE_MM
    )


def slice_objections(
    placements: Sequence[Placement], board_of: Mapping[str, Board], parts: PartsList, shop: Shop
) -> Iterator[Objection]:
    """Say what is wrong with slices among the live placements."""
    part_of = {part.name: part for part in parts}
    sets: dict[str, list[Placement]] = defaultdict(list)
    for p in placements:
        match = part_of[p.part].match or ""
        if match.endswith(":bookmatch"):
            sets[match].append(p)
        elif p.layer is not None:
            words = f"{p.board}: {p.part} {p.copy} is a slice, which it does not ask for"
            yield Objection(Rule.SLICES, words, p.board, copies_of(p))
    for name, own in sets.items():
        sliced = [p for p in own if p.layer is not None]
        if sliced and len(sliced) < len(own):
            words = f"set {name}: some of its members are slices and some are not"
            yield Objection(Rule.SLICES, words, parts=copies_of(*own))
        for blank in one_of_each_blank(sliced):
            group = [p for p in sliced if _share_a_blank(p, blank)]
            if sorted(p.layer or 0 for p in group) != list(range(1, len(group) + 1)):
                words = f"set {name}: its slices on {blank.board} are not numbered from 1 on"
                yield Objection(Rule.SLICES, words, blank.board, copies_of(*group))
            board = board_of[blank.board]
            length = max(blank.length_mm, shop.shortest_piece_mm)
            have = thickness_left_mm(board, length, blank.width_mm, 0.0)
            need = sum(part_of[p.part].thickness_mm + _FACES_MM for p in group)
            need += (len(group) - 1) * shop.kerf_mm
            if need > have + 1e-6:
                words = (
                    f"set {name}: {len(group)} slices need {need:.1f} mm, "
                    f"{blank.board} has {have:.1f} mm when flat"
                )
                yield Objection(Rule.SLICES, words, blank.board, copies_of(*group))
