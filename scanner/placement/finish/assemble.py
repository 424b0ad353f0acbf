"""From the search's choice to a `Layout`: placements, pieces, cuts, left-overs, totals, bound."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import count

from scanner.board.board import Board
from scanner.board.volume import Tally, board_feet, quarters_of, sawn_width_mm
from scanner.placement.choosing.choice import Choice
from scanner.placement.choosing.problem import Problem
from scanner.placement.copy_names import names_of
from scanner.placement.ground.clear_ground import Ground
from scanner.placement.ground.offcuts import offcuts_of
from scanner.placement.ground.rooms import Rooms
from scanner.placement.laid.cuts import pieces_and_cuts
from scanner.placement.layout import Bound, Layout, Placement, Summary, Unplaced
from scanner.placement.parts import Faces, Part, PartsList
from scanner.placement.proof.bound import bound_of
from scanner.placement.proof.bound_of_class import Proof
from scanner.placement.rules.follow import turn_deg
from scanner.placement.rules.ground import margin_mm
from scanner.placement.said.reasons import extra_missing, unplaced_of
from scanner.placement.said.reasons_sets import set_reasons, stave_reasons
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import finished_area_mm2, rough_size_mm, value_mm2
from scanner.placement.wanted.staves import copies_placed
from scanner.placement.wanted.turned import corner_in_blank_mm
from scanner.units import inches_from_mm


def placements_of(problem: Problem, choice: Choice, taken: Iterable[Placement]) -> list[Placement]:
    """Return the placements of a choice; copies get the lowest numbers that are still free."""
    used: dict[str, set[int]] = defaultdict(set)
    for p in taken:
        used[p.part].add(p.copy)
    part_of = {part.name: part for part in problem.types.every_part}
    found = []
    for b in sorted(choice):
        ground = problem.grounds.at_hand(b)
        board = ground.board
        scale = max(face.u_scale for face in board.faces.values())
        places = [
            place
            for t, x, row in ((int(p[0]), int(p[1]), int(p[2])) for p in choice[b].places)
            for place in _members(problem, ground, t, x, row)
        ]
        for x, row, name, show_face, layer in sorted(places, key=lambda place: place[:2]):
            length, width = rough_size_mm(part_of[name], problem.shop)
            turn = turn_deg(board, part_of[name])
            dx, dy = corner_in_blank_mm(length, width, turn) if turn else (0.0, 0.0)
            x_mm, y_mm = x / 10 + dx, (ground.y0 + row * problem.types.row) / 10 + dy
            found.append(
                Placement(
                    part=name,
                    copy=_lowest_free(used[name]),
                    board=board.id,
                    x_mm=x_mm,
                    y_mm=y_mm,
                    length_mm=length,
                    width_mm=width,
                    angle_deg=turn,
                    layer=layer,
                    show_face=show_face,
                    # The least it keeps: more further along the board, and further across it.
                    margin_mm=round(
                        margin_mm(board.outline_u_mm, scale, min(x_mm, y_mm), problem.shop), 2
                    ),
                )
            )
    return found


def _members(
    problem: Problem, ground: Ground, t: int, x: int, row: int
) -> Iterator[tuple[int, int, str, int | None, int | None]]:
    """Yield place, name, show face and layer of a part, or of each member of a set."""
    types = problem.types
    show = _show_face(ground, t, x, row)
    if t < len(types.parts):
        part = types.parts[t]
        yield x, row, part.name, show if part.faces is Faces.SHOW else None, None
        return
    for m in ground.arrangements[t - len(types.parts)]:
        shown = show if m.part.faces is Faces.SHOW else None
        yield x + m.x, row + m.row, m.part.name, shown, m.layer


def _lowest_free(used: set[int]) -> int:
    """Take the lowest copy number that is not used yet."""
    copy = next(n for n in count(1) if n not in used)
    used.add(copy)
    return copy


def _show_face(ground: Ground, t: int, x: int, row: int) -> int:
    """Return the show face of the clear interval that holds this place, 0 where none shows."""
    around = ground.run_around(t, x, row)
    if around is None:
        raise ValueError(f"part {t} at {x} does not lie on clear ground")
    return int(ground.faces[around])


def assemble(
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    placements: tuple[Placement, ...],
    seed: int,
    work: int,
    is_final: bool,
    smallest: PartsList | None = None,
    proof: Proof | None = None,
    is_quick: bool = False,
    taken: Mapping[str, Sequence[tuple[float, float]]] | None = None,
) -> Layout:
    """Return the layout of these placements; what takes long only where it is final.

    ``smallest``: the parts at the least size that they may have, for the bound. ``proof``: how the
    bound of the cut class may be sought. ``is_quick``: a looser bound will do. ``taken``: stretches
    of the boards, mm along them, in which nothing was laid beside what stays.
    """
    by_board: dict[str, list[tuple[int, Placement]]] = defaultdict(list)
    for n, p in enumerate(placements):
        by_board[p.board].append((n, p))
    opened = [board for board in boards if board.id in by_board]
    pieces, cuts = [], []
    for board in opened:
        own_pieces, own_cuts = pieces_and_cuts(board, by_board[board.id], shop)
        pieces += own_pieces
        cuts += own_cuts
    have = copies_placed(placements, parts, shop)
    short = [
        (part, part.quantity - have[part.name])
        for part in parts
        if not part.filler and have[part.name] < part.quantity
    ]
    area = sum(board.wood(1).area for board in opened)
    # Slices of one blank take its ground once; so does the yield.
    below = Counter(p.part for p in placements if (p.layer or 1) > 1)
    finished = sum((have[part.name] - below[part.name]) * finished_area_mm2(part) for part in parts)
    value = sum(have[part.name] * value_mm2(part) for part in parts)
    bound = Bound("value", "any", value, 0.0)
    if is_final:
        bound = _bound(
            boards, smallest or parts, shop, have, (value, area), not short, proof, is_quick
        )
    return Layout(
        cut_class=shop.cut_class,
        kerf_mm=shop.kerf_mm,
        seed=seed,
        work=work,
        placements=placements,
        pieces=tuple(pieces),
        cuts=tuple(cuts),
        unplaced=_unplaced(short, have, boards, parts, shop, placements, taken or {})
        if is_final
        else (),
        offcuts=tuple(
            offcut
            for board in opened
            for offcut in offcuts_of(
                board,
                [p for _, p in by_board[board.id]],
                shop,
                [cut for cut in cuts if cut.board == board.id],
            )
        )
        if is_final
        else (),
        summary=Summary(
            placed=sum(have.values()),
            asked=sum(part.quantity + part.spares for part in parts),
            boards_opened=len(opened),
            area_opened_mm2=area,
            board_feet=_feet(boards, {board.id for board in opened}),
            yield_share=finished / area if area else 0.0,
        ),
        bound=bound,
        not_looked_over=tuple(board.id for board in opened if not board.is_looked_over),
    )


def _unplaced(
    short: Sequence[tuple[Part, int]],
    have: Counter[str],
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    placements: Sequence[Placement],
    taken: Mapping[str, Sequence[tuple[float, float]]],
) -> tuple[Unplaced, ...]:
    lying: dict[str, list[Placement]] = defaultdict(list)
    for p in placements:
        lying[p.board].append(p)
    rooms = Rooms(shop, lying, taken, names_of(parts))
    of_sets = set_reasons(short, parts, boards, shop) if short else {}
    of_sets |= stave_reasons(short, boards, shop)
    # Of a filler every copy is one that only takes what is left over.
    extra = [
        (
            part,
            part.quantity + part.spares - max(have[part.name], 0 if part.filler else part.quantity),
        )
        for part in parts
    ]
    return tuple(
        of_sets[part.name]
        if part.name in of_sets
        else unplaced_of(part, copies, boards, shop, have[part.name] > 0, rooms)
        for part, copies in short
    ) + tuple(
        extra_missing(part, copies, boards, shop, rooms) for part, copies in extra if copies > 0
    )


def _bound(
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    have: Counter[str],
    achieved: tuple[float, float],
    is_complete: bool,
    proof: Proof | None = None,
    is_quick: bool = False,
) -> Bound:
    """Return the bound; spares and fillers count for value only as far as they may be placed."""
    if is_complete:
        wanted = [0 if part.filler else part.quantity for part in parts]
    else:
        wanted = [part.quantity + part.spares for part in parts]
    gross = [board.wood(1).area for board in boards]
    # The bound knows upright rectangles only, each on ground of its own: curved and turned parts,
    # and those that are resawn from one blank, count as placed, on no wood at all.
    turned = [
        part.outline_mm is not None
        or (part.match or "").endswith(":bookmatch")
        or any(turn_deg(board, part) for board in boards)
        for part in parts
    ]
    free = sum(
        n * value_mm2(part) for part, n, is_t in zip(parts, wanted, turned, strict=True) if is_t
    )
    own = sum(have[part.name] * value_mm2(part) for part, t in zip(parts, turned, strict=True) if t)
    wanted = [0 if is_t else n for n, is_t in zip(wanted, turned, strict=True)]
    value, area = achieved
    bound = bound_of(
        boards, parts, wanted, gross, shop, (value - own, area), is_complete, proof, is_quick
    )
    if not any(turned) or bound.of == "area":
        return bound
    return replace(bound, value=bound.value + free, gap=1 - value / (bound.value + free))


def _feet(boards: Sequence[Board], opened: set[str]) -> float:
    """Return board feet of the boards opened; the whole lot is tallied in its order."""
    tally = Tally()
    total = 0.0
    for board in boards:
        low, high = board.faces[1].outline.bounds[1], board.faces[1].outline.bounds[3]
        widths = [station.width.value_mm for station in board.widths] or [high - low]
        measure = tally.surface_measure(
            inches_from_mm(sawn_width_mm(widths)), inches_from_mm(board.length.value_mm)
        )
        if board.id in opened:
            total += float(board_feet([measure], quarters_of(board.thickness.value_mm)))
    return total
