"""Why a matched set found no place, and what came nearest, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

from shapely.geometry import box
from shapely.ops import unary_union

from scanner.board.board import Board
from scanner.board.likest import boards_apart, likeness_word
from scanner.placement.choosing.set_plan import Fits
from scanner.placement.giving.sizes import Side
from scanner.placement.ground.resaw import thickness_needed_mm
from scanner.placement.layout import Placement, Unplaced
from scanner.placement.parts import Part, PartsList
from scanner.placement.said.offers_sets import set_offers, with_allowance
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import Types, rough_size_mm, types_of
from scanner.placement.wanted.sets import (
    Manner,
    MatchedSet,
    arrangements,
    matched_sets,
    outer_size,
)
from scanner.placement.wanted.staves import choices_of, is_glued, panel, stave_width_mm
from scanner.units import length_text


def set_reasons(
    short: Sequence[tuple[Part, int]], parts: PartsList, boards: Sequence[Board], shop: Shop
) -> dict[str, Unplaced]:
    """Return the reason of every unplaced part that belongs to a set, by its name."""
    missing = {part.name: copies for part, copies in short}
    wanted = {part.name: part.quantity for part in parts}
    fits = Fits(boards, shop, {})
    found: dict[str, Unplaced] = {}
    for one in matched_sets(parts, wanted):
        names = {member.name for member in one.members}
        if names & set(missing):
            reason, nearest = _reason(one, fits, shop)
            found.update(
                {n: Unplaced(n, missing[n], reason, nearest) for n in names if n in missing}
            )
    return found


def _reason(one: MatchedSet, fits: Fits, shop: Shop) -> tuple[str, str]:
    count = len(one.members)
    able = fits.boards_for(one)
    if one.manner is Manner.BOOKMATCH and not able:
        one = replace(one, manner=Manner.BESIDE)
        able = fits.boards_for(one)
    if able:
        ids = ", ".join(board.id for board in able[:3])
        return (
            f"the set {one.name} ({count} parts) comes whole from one board or not at all: {ids} "
            "could hold it, but what lies there counts for more",
            "",
        )
    reason = (
        f"no board has room for all {count} parts of the set {one.name} {one.manner.words} "
        f"({_size_text(one, shop)}), and no two boards that are alike hold them together"
    )
    most, board = fits.most_members(one)
    nearest = (
        "no board holds even one of them"
        if board is None
        else f"{board.id} could hold {most} of the {count}"
    )

    def holds(side: Side, mm: float) -> Board | None:
        less = tuple(with_allowance(member, side, mm) for member in one.members)
        return next(iter(fits.boards_for(replace(one, members=less))), None)

    return reason, "; or ".join((nearest, *set_offers(one.members[0], holds, shop)))


def stave_reasons(
    short: Sequence[tuple[Part, int]], boards: Sequence[Board], shop: Shop
) -> dict[str, Unplaced]:
    """Return the reason of every unplaced part that is to be glued up from staves, by its name."""
    found = {}
    fits = Fits(boards, shop, {})
    for part, copies in short:
        if not is_glued(part):
            continue
        tried, able, nearest = [], set(), (0.0, "no board holds even one stave")
        for count in choices_of(part, shop):
            one = panel(part, count, shop)
            ids = [b.id for b in boards if Fits((b,), shop, {}).places_on(b, one)]
            able.update(ids)
            tried.append(f"{count} of {length_text(stave_width_mm(part, count, shop), shop.units)}")
            most, board = fits.most_members(one)
            if board is not None and most / count > nearest[0]:
                text = f"{board.id} holds {most} of {count} staves in one place"
                nearest = (most / count, text if count > 1 else f"{board.id} holds it whole")
        staves = f"staves ({' or '.join(tried)}, {length_text(_long(part, shop), shop.units)} long)"
        if able:
            reason = (
                f"a panel glued up from {staves} comes from one board or not at all: "
                f"{', '.join(sorted(able)[:3])} could hold it, but what lies there counts for more"
            )
        else:
            reason = f"no board holds all its {staves}, and they come from one board"
        offers = () if able else set_offers(part, partial(_holds, part, boards, shop), shop)
        said = () if able else (nearest[1], *offers)
        found[part.name] = Unplaced(part.name, copies, reason, "; or ".join(said))
    return found


def _holds(part: Part, boards: Sequence[Board], shop: Shop, side: Side, mm: float) -> Board | None:
    """Return the first board that holds a panel with so much of an allowance, in any staves."""
    less = with_allowance(part, side, mm)
    for count in choices_of(less, shop):
        one = panel(less, count, shop)
        for board in boards:
            if Fits((board,), shop, {}).places_on(board, one):
                return board
    return None


def _long(part: Part, shop: Shop) -> float:
    return rough_size_mm(part, shop)[0]


def _size_text(one: MatchedSet, shop: Shop) -> str:
    types: Types = types_of((), (), shop, (one,))
    way = next(arrangements(one, types.sizes, types.kerf, shop.cut_class == "three_stage"), ())
    if not way:
        return "their widths differ, and this way of cutting has one width in a strip"
    size = outer_size(way)
    across = max(m.row * types.row + m.size.width for m in way)
    length = length_text(size.length / 10, shop.units).removesuffix(" mm")
    return f"{length} x {length_text(across / 10, shop.units)}"


def divided_sets(
    parts: PartsList,
    placements: Sequence[Placement],
    shop: Shop,
    lot: Sequence[Board] = (),
) -> tuple[str, ...]:
    """Return one sentence for each set that had to be divided over two boards or two places.

    ``lot``: the boards, to say how alike the two look where that is known.
    """
    said = []
    board_of = {board.id: board for board in lot}
    live = [p for p in placements if p.state != "spoiled"]
    for one in matched_sets(parts, {part.name: part.quantity for part in parts}):
        names = {member.name for member in one.members}
        own = [p for p in live if p.part in names]
        boards = sorted({p.board for p in own})
        if len(boards) > 1:
            said.append(
                f"The set {one.name} fits no single board: it comes from {' and '.join(boards)}, "
                f"which are of one species and thickness{_look(boards, board_of)}. "
                "Look whether their colour and grain go together."
            )
        elif len(own) >= len(one.members) and _places(own, shop) > 1:
            said.append(
                f"The set {one.name} has no single place that holds it: it lies in two places "
                f"of {boards[0]}."
            )
    return tuple(said)


def _look(ids: Sequence[str], board_of: Mapping[str, Board]) -> str:
    """Return how alike two boards look, to go on a sentence; "" where that is not known."""
    if len(ids) != 2 or any(name not in board_of for name in ids):
        return ""
    apart = boards_apart(board_of[ids[0]], board_of[ids[1]])
    return "" if apart is None else f" and look {likeness_word(apart)} as rough boards"


def bookmatches_said(
    parts: PartsList, placements: Sequence[Placement], shop: Shop
) -> tuple[str, ...]:
    """Return one sentence for each bookmatched set: how it is resawn, or that it is not."""
    said = []
    live = [p for p in placements if p.state != "spoiled"]
    for one in matched_sets(parts, {part.name: part.quantity for part in parts}):
        own = [p for p in live if p.part in {member.name for member in one.members}]
        if one.manner is not Manner.BOOKMATCH or not own:
            continue
        slices = max((p.layer or 0 for p in own), default=0)
        thick = one.members[0].thickness_mm
        if slices:
            said.append(
                f"The set {one.name} is bookmatched: resaw each blank into {slices} slices, let "
                "them rest, and open them like a book; the sawn faces show, so look at them before "
                "you cut to size. They may shimmer differently under finish."
            )
        else:
            need = length_text(thickness_needed_mm(thick, 2, shop), shop.units)
            said.append(
                f"The set {one.name} is not bookmatched: no board with room is {need} thick when "
                "flat, as two slices need. Its parts lie side by side on one board instead."
            )
    return tuple(said)


def _places(own: Sequence[Placement], shop: Shop) -> int:
    """Return in how many separate places these parts of one board lie."""
    # Strips begin at whole rows, so neighbours may stand a little wider than a kerf.
    reach = shop.kerf_mm / 2 + 0.6
    boxes = [
        box(p.x_mm, p.y_mm, p.x_mm + p.length_mm, p.y_mm + p.width_mm).buffer(
            reach, join_style="mitre"
        )
        for p in own
    ]
    return len(getattr(unary_union(boxes), "geoms", [None]))
