"""Short texts that the sheets share: sizes, part titles, cautions in plain words."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from scanner.board.board import Board
from scanner.board.flaw import FlawKind, FlawState
from scanner.placement.copy_names import Counted, copy_name
from scanner.placement.layout import Placement
from scanner.placement.names_in_words import joined
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.units import MM_PER_INCH, length_text, size_text

# Push stick (table-saw manual): narrower than 6 in, shorter than 12 in.
_PUSH_STICK_WIDTH_MM = 6 * MM_PER_INCH
_PUSH_STICK_LENGTH_MM = 12 * MM_PER_INCH
# 11 in and an inch of allowance are no shorter than 12 in, whatever floats make of it.
_ROUNDED_MM = 0.05


def bare(length_mm: float, units: str) -> str:
    """Return a length without its unit, for columns and marks that name it once."""
    return length_text(length_mm, units).removesuffix(" mm").removesuffix(" in")


def unit_name(units: str) -> str:
    """Return the unit that bare lengths are in."""
    return "in" if units == "inch" else "mm"


def piece_title(piece_id: str, board_id: str) -> str:
    """Return a piece's name where the board is known: ``2`` for ``B01-2``."""
    return piece_id.removeprefix(f"{board_id}-")


def part_title(placement: Placement, parts: Mapping[str, Counted]) -> str:
    """Return a part's name, with its copy number where there are several, its stave, its slice."""
    stave = "" if placement.stave is None else f", stave {placement.stave}"
    stave += "" if placement.layer is None else f", slice {placement.layer}"
    return copy_name(placement.part, placement.copy, parts.get(placement.part)) + stave


def blank_title(
    placement: Placement, placements: Sequence[Placement], parts: Mapping[str, Counted]
) -> str:
    """Return what a blank is called: the part sawn from it, or all that are, in one."""
    if placement.layer is not None:
        slices = slices_with(placement, placements)
        titles = [part_title(replace(p, layer=None), parts) for p in sorted(slices, key=_layer)]
        return f"{' + '.join(titles)} (resaw)"
    nest = nest_of(placement, placements)
    if len(nest) < 2:
        return part_title(placement, parts)
    copies = sorted(p.copy for p in nest)
    in_a_row = len(copies) > 2 and copies == list(range(copies[0], copies[-1] + 1))
    said = f"{copies[0]}-{copies[-1]}" if in_a_row else ", ".join(map(str, copies))
    return f"nest of {placement.part} {said}"


def _layer(p: Placement) -> int:
    return p.layer or 0


def slices_with(placement: Placement, placements: Sequence[Placement]) -> list[Placement]:
    """Return what is resawn from the same blank, the part with it; nothing where it is no slice."""
    if placement.layer is None:
        return []
    place = (placement.board, placement.x_mm, placement.y_mm)
    return [
        p
        for p in placements
        if p.layer and (p.board, p.x_mm, p.y_mm) == place and p.state != "spoiled"
    ]


def nest_of(placement: Placement, placements: Sequence[Placement]) -> list[Placement]:
    """Return what is sawn from the same nest's blank, the part with it; nothing without a nest."""
    if placement.nest is None:
        return []
    place = (placement.board, placement.nest)
    return [p for p in placements if (p.board, p.nest) == place and p.state != "spoiled"]


def by_name(parts: PartsList) -> dict[str, Part]:
    """Return the parts by their names."""
    return {part.name: part for part in parts}


def finished_text(placement: Placement, parts: Mapping[str, Part], units: str) -> str:
    """Return a part's finished size (a stave's panel), or a dash where nobody knows it."""
    part = parts.get(placement.part)
    if part is None:
        return "–"
    size = size_text(part.length_mm, part.width_mm, units)
    return size if placement.stave is None else f"panel {size}"


LEAVE_JOINED = "Leave such a part joined to its neighbour until it is milled, or plane it by hand."


def cautions(
    board: Board, placements: tuple[Placement, ...], parts: Mapping[str, Part], shop: Shop
) -> tuple[str, ...]:
    """Return what to mind before and at the saw, this board's own points first.

    Sources: a magazine issue on rough lumber and its tips page, table-saw and jointer manuals, a
    crosscut-saw article by an extension author.
    """
    units = shop.units
    found = []
    pieces = [(p, part_title(p, parts)) for p in placements]
    short = [title for p, title in pieces if p.length_mm < shop.shortest_piece_mm - _ROUNDED_MM]
    if short:
        least = length_text(shop.shortest_piece_mm, units)
        found.append(
            f"{joined(_few(short))}: shorter than {least}, your shortest for jointer and planer. "
            f"{LEAVE_JOINED}"
        )
    narrow = any(
        p.width_mm < _PUSH_STICK_WIDTH_MM or p.length_mm < _PUSH_STICK_LENGTH_MM for p in placements
    )
    counted = [flaw for flaw in board.flaws if flaw.counts]
    if any(f.kind is FlawKind.KNOT and f.sound is not True for f in counted):
        found.append("Cut loose knots out before jointer and planer; look for metal and grit.")
    else:
        found.append("Look for metal and grit before jointer and planer.")
    if any(f.kind is FlawKind.PITH or (f.kind is FlawKind.SPLIT) for f in counted):
        found.append("Pith or a split may close the kerf and pinch the blade.")
    if not all(end.looked_over for end in board.ends.values()):
        found.append("Look at every fresh end: where a crack shows, cut again before you measure.")
    if any(f.state is FlawState.POSSIBLE for f in counted) or not board.is_looked_over:
        found.append("Look at both faces and both edges before the first cut.")
    found.append(
        "Rough, bowed, cupped, twisted or crooked wood does not go on a table saw: band saw, "
        "jig saw, circular saw or a sled, until one face is flat and one edge straight."
    )
    push = "push stick, " if narrow else ""
    found.append(
        f"Never stand in line with the blade; riving knife, {push}light passes, eyes and ears "
        "covered, dust drawn off and a mask on."
    )
    found.append(
        "The manuals of your machines, the rules of your place and people trained on the machine "
        "come before this sheet."
    )
    return tuple(found)


def _few(words: list[str], most: int = 3) -> list[str]:
    """Return the first words and how many more there are."""
    return words if len(words) <= most + 1 else [*words[:most], f"{len(words) - most} more"]
