"""The validator's own view of panels glued up from staves: one board, all there, wide enough."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from scanner.board.board import Board
from scanner.placement.layout import Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.validator.limits import ALIKE_THICKNESS_MM, SAWN, TOLERANCE_MM
from scanner.placement.validator.objection import Objection, PartCopy, Rule


def joint_loss_mm(shop: Shop) -> float:
    """Return what the jointer takes off both edges of a stave: 1/4 in, or 6 mm."""
    return 6.35 if shop.units == "inch" else 6.0


def glued_up(placements: Iterable[Placement], parts: PartsList, shop: Shop) -> list[Placement]:
    """Return the placements, the staves of each panel that has them all joined into one."""
    part_of = {part.name: part for part in parts}
    staves: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    found = []
    for p in placements:
        if p.stave is None:
            found.append(p)
        else:
            staves[p.part, p.copy].append(p)
    for (name, _), own in staves.items():
        made = sum(p.width_mm - joint_loss_mm(shop) for p in own)
        # A missing stave is far more than a millimetre.
        if made > _rough_mm(part_of[name], shop)[0] - 1.0:
            found.append(replace(own[0], width_mm=made, stave=None))
    return found


def stave_objections(
    placements: Sequence[Placement], board_of: Mapping[str, Board], parts: PartsList, shop: Shop
) -> Iterator[Objection]:
    """Say what is wrong with the panels among the live placements."""
    for part in parts:
        panels: dict[int, list[Placement]] = defaultdict(list)
        for p in placements:
            if p.part == part.name:
                panels[p.copy].append(p)
        for copy, own in panels.items():
            of: tuple[PartCopy, ...] = ((part.name, copy),)
            for words in _panel(f"{part.name} {copy}", part, own, board_of, shop):
                yield Objection(Rule.STAVES, words, parts=of)


def _panel(
    title: str, part: Part, own: Sequence[Placement], board_of: Mapping[str, Board], shop: Shop
) -> Iterator[str]:
    if all(p.stave is None for p in own):
        if part.staves not in ("", "1", "auto") and not part.filler and not part.outline_mm:
            yield f"{title} is to be glued up from {part.staves} staves and is whole"
        return
    if part.staves in ("", "1") or part.filler or part.outline_mm:
        yield f"{title} is glued up, which was not asked for"
    if any(p.stave is None for p in own):
        yield f"{title} is whole and glued up at once"
        return
    is_begun = any(p.locked or p.state in SAWN for p in own)
    numbers = sorted(p.stave or 0 for p in own)
    if not is_begun and numbers != list(range(1, len(own) + 1)):
        yield f"{title}: its staves are numbered {numbers}"
    if part.staves not in ("", "auto") and max(numbers) > int(part.staves):
        yield f"{title} is to have {part.staves} staves, not {max(numbers)}"
    made = sum(p.width_mm - joint_loss_mm(shop) for p in own)
    least, most = _rough_mm(part, shop)
    if not is_begun and not least - 2 * TOLERANCE_MM <= made <= most + 2 * TOLERANCE_MM:
        yield f"{title}: its staves make {made:.1f} mm when jointed, {least:.1f} are needed"
    boards = [board_of[id] for id in sorted({p.board for p in own})]
    are_alike = len(boards) == 2 and (
        boards[0].species.lower().strip() == boards[1].species.lower().strip()
        and abs(boards[0].thickness.value_mm - boards[1].thickness.value_mm) <= ALIKE_THICKNESS_MM
    )
    if len(boards) > 1 and not (is_begun and are_alike):
        yield f"{title}: its staves come from {', '.join(board.id for board in boards)}"


def _rough_mm(part: Part, shop: Shop) -> tuple[float, float]:
    """Return the least and the largest rough width."""
    own = part.width_allowance_mm
    more = shop.width_allowance_mm if own is None else own
    low = part.width_mm if part.width_min_mm is None else part.width_min_mm
    high = part.width_mm if part.width_max_mm is None else part.width_max_mm
    return low + more, high + more
