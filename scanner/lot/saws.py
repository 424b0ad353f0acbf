"""Which saw suits which cut of a layout, and what may jump, pinch or spring there.

Rough wood has neither flat face nor straight edge, so until both are made it goes over no table
saw: jig saw or hand-held saw across, band saw along (two magazine pages on rough and twisted
lumber, a saw manual). What is said of hollow sides, wedges and springing wood is common practice,
no source. The manuals of the machines come first.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from shapely.geometry import LineString, box

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.form import Warp, bend_of_piece_mm, twist_of_piece_mm
from scanner.placement.layout import Cut, Layout, Piece
from scanner.placement.shop import Shop

# A piece that stands off by less lies still enough under a hand (common practice, no source).
_ROCKS_MM = 3.0
_CUPPED_MM = 2.0
# A blade and the eye wander by so much round a line.
_NEAR_MM = 8.0
# Wood so near to the pith is strained by it.
_PITH_MM = 25.0
# A strip longer than this many times its width bends as soon as it is free.
_SLENDER = 12.0
# A rip parts strips; what is thinner between two is waste.
_SLIVER_MM = 20.0
# Places are rounded to a tenth; lengths in inches to less.
_ROUNDED_MM = 0.35


class Danger(StrEnum):
    """What to mind at a cut; the value is its short name beside the cut."""

    NO_EDGE = "to a line"
    TWIST = "twist"
    HOLLOW = "hollow"
    LOOSE_KNOT = "knot"
    PITH = "pith"
    CLOSING = "closes"
    SPRINGING = "springs"
    FALLS_APART = "split"
    MILL_FIRST = "mill first"


MEANS: Mapping[Danger, str] = {
    Danger.NO_EDGE: "nothing is straight yet, so saw to a chalk line without a fence.",
    Danger.TWIST: "the piece rocks. Wedge the corner that stands off before the blade touches it.",
    Danger.HOLLOW: "lay the hollow face (1 or 2) down, so that it cannot tip.",
    Danger.LOOSE_KNOT: "loose, or nobody said that it is tight. Knock it out first: at the blade "
    "it may fly.",
    Danger.PITH: "the wood is strained there. Keep a wedge at hand for the kerf, saw slowly.",
    Danger.CLOSING: "the kerf may close on the blade. Prop both sides near the cut, put a wedge "
    "into the kerf behind the blade, and stop the saw before you draw it out.",
    Danger.SPRINGING: "the strip may spring as it comes free. Leave it wider, let it rest, and rip "
    "it to width in a second cut.",
    Danger.FALLS_APART: "what comes off may come in two pieces. Hold neither beside the blade.",
    Danger.MILL_FIRST: "too short for jointer and planer alone. Mill its strip, then cut it to "
    "length.",
}


@dataclass(frozen=True, slots=True)
class Mind:
    """One thing to mind at a cut; ``at`` names what there, such as a flaw's id or a face."""

    danger: Danger
    at: str = ""

    @property
    def text(self) -> str:
        """The words beside the cut."""
        return f"{self.danger.value} {self.at}".strip()


@dataclass(frozen=True, slots=True)
class CutCare:
    """The saw for one cut, and what to mind there."""

    board: str
    order: int
    saw: str
    minds: tuple[Mind, ...]


def cut_cares(layout: Layout, board: Board, shop: Shop) -> tuple[CutCare, ...]:
    """Return the saw and the dangers of each cut of a board, in sawing order."""
    cuts = sorted((cut for cut in layout.cuts if cut.board == board.id), key=lambda c: c.order)
    pieces = [piece for piece in layout.pieces if piece.board == board.id]
    rips = [cut for cut in cuts if cut.kind == "rip"]
    ripped: set[str] = set()
    found = []
    for cut in cuts:
        piece = _piece_of(cut, pieces)
        first = cut.kind == "rip" and (piece is None or piece.id not in ripped)
        if cut.kind == "rip" and piece is not None:
            ripped.add(piece.id)
        minds = tuple(_minds(cut, rips, board, piece, shop, is_first=first))
        if piece is not None and _is_milled_before(cut, piece, layout, shop):
            minds += (Mind(Danger.MILL_FIRST),)
        found.append(CutCare(board.id, cut.order, _saw(cut, minds), minds))
    return tuple(found)


def is_across(cut: Cut) -> bool:
    """Whether a cut runs across the grain."""
    return abs(cut.to_mm[0] - cut.from_mm[0]) <= abs(cut.to_mm[1] - cut.from_mm[1])


def _piece_of(cut: Cut, pieces: list[Piece]) -> Piece | None:
    middle = (cut.from_mm[0] + cut.to_mm[0]) / 2
    return next((p for p in pieces if p.x0_mm - 0.5 <= middle <= p.x1_mm + 0.5), None)


def _saw(cut: Cut, minds: tuple[Mind, ...]) -> str:
    if cut.kind == "final":
        return "crosscut sled or mitre saw" if is_across(cut) else "table saw or band saw"
    if cut.kind == "rip":
        return "band saw; no table saw yet"
    dangers = {mind.danger for mind in minds}
    if dangers & {Danger.TWIST, Danger.CLOSING}:
        return "jig saw or hand saw, on trestles"
    return "hand-held circular saw, jig saw or hand saw"


def _minds(
    cut: Cut, rips: list[Cut], board: Board, piece: Piece | None, shop: Shop, *, is_first: bool
) -> Iterator[Mind]:
    # What is cut last was milled: flat, with a straight edge.
    if cut.kind != "final":
        if cut.kind == "rip" and is_first:
            yield Mind(Danger.NO_EDGE)
        yield from _warped(cut, board, piece)
    line = LineString([cut.from_mm, cut.to_mm])
    counted = [flaw for flaw in board.flaws if flaw.counts]
    for flaw in counted:
        if flaw.kind is FlawKind.KNOT and flaw.sound is not True and _near(flaw, line, _NEAR_MM):
            yield Mind(Danger.LOOSE_KNOT, flaw.id)
        elif flaw.kind is FlawKind.PITH and _near(flaw, line, _PITH_MM):
            yield Mind(Danger.PITH, flaw.id)
        elif flaw.kind in (FlawKind.SPLIT, FlawKind.SHAKE) and _near(flaw, line, _NEAR_MM):
            danger = Danger.FALLS_APART if is_across(cut) else Danger.CLOSING
            yield Mind(danger, flaw.id)
    if cut.kind == "rip" and _springs(cut, rips, board, counted, shop):
        yield Mind(Danger.SPRINGING)


def _is_milled_before(cut: Cut, piece: Piece, layout: Layout, shop: Shop) -> bool:
    """Whether a cut to length makes a part too short for the machines out of a strip that is not.

    The least length is safe for both jointer and planer (a magazine on short stock, manuals).
    """
    if cut.kind != "final" or not is_across(cut):
        return False
    least = shop.shortest_piece_mm - _ROUNDED_MM
    if piece.x1_mm - piece.x0_mm < least:
        return False
    at, reach = cut.from_mm[0], layout.kerf_mm / 2 + _ROUNDED_MM
    low, high = sorted((cut.from_mm[1], cut.to_mm[1]))
    return any(
        p.board == cut.board
        and p.length_mm < least
        and min(abs(p.x_mm - at), abs(p.x_mm + p.length_mm - at)) <= reach
        and low <= p.y_mm + p.width_mm / 2 <= high
        for p in layout.placements
        if p.state != "spoiled"
    )


def _near(flaw: Flaw, line: LineString, reach_mm: float) -> bool:
    return any(shape.distance(line) <= reach_mm for shape in flaw.outlines.values())


def _warped(cut: Cut, board: Board, piece: Piece | None) -> Iterator[Mind]:
    """Yield what the warp of the piece on the saw makes of a cut."""
    if board.warp is None:
        return
    _, low, _, high = board.faces[1].outline.bounds
    whole = (board.length.value_mm, high - low)
    # A crosscut is made on the whole board, a rip on its piece.
    on_saw = piece.x1_mm - piece.x0_mm if piece is not None and cut.kind == "rip" else whole[0]
    length = min(on_saw, whole[0])
    warp = board.warp
    if abs(twist_of_piece_mm(warp.twist_mm or 0.0, whole, (length, whole[1]))) >= _ROCKS_MM:
        yield Mind(Danger.TWIST)
    bow = bend_of_piece_mm(warp.bow_mm or 0.0, whole[0], length)
    cup = warp.cup_mm or 0.0
    if abs(cup) >= _CUPPED_MM:
        yield Mind(Danger.HOLLOW, _hollow_face(warp, cup))
    elif abs(bow) >= _ROCKS_MM:
        yield Mind(Danger.HOLLOW, _hollow_face(warp, bow))
    if cut.kind == "crosscut" and abs(bow) >= _ROCKS_MM:
        yield Mind(Danger.CLOSING)


def _hollow_face(warp: Warp, bend_mm: float) -> str:
    """Return the number of the hollow face; nothing where no sign was typed."""
    if not warp.sign_known:
        return ""
    return "1" if bend_mm > 0 else "2"


def _springs(cut: Cut, rips: list[Cut], board: Board, flaws: list[Flaw], shop: Shop) -> bool:
    """Whether a long rip frees a slender strip of strained wood: near pith, or of a crooked board.

    The strip lies between this rip and the one before it, towards smaller y.
    """
    (x0, y), (x1, _) = cut.from_mm, cut.to_mm
    left, right = min(x0, x1), max(x0, x1)
    before = [
        one.from_mm[1]
        for one in rips
        if one.from_mm[1] < y - _SLIVER_MM
        and min(one.from_mm[0], one.to_mm[0]) < right
        and max(one.from_mm[0], one.to_mm[0]) > left
    ]
    doubled = any(y - _SLIVER_MM <= one.from_mm[1] < y for one in rips if one is not cut)
    if not before or doubled or right - left < shop.piece_length_mm:
        return False
    if right - left < _SLENDER * (y - max(before)):
        return False
    crooked = board.warp is not None and abs(board.warp.crook_mm or 0.0) >= _ROCKS_MM
    strip = box(left, max(before), right, y)
    pith = any(
        flaw.kind is FlawKind.PITH and any(s.intersects(strip) for s in flaw.outlines.values())
        for flaw in flaws
    )
    return crooked or pith


def dangers_said(
    cares: tuple[CutCare, ...], *, elsewhere: Collection[Danger] = ()
) -> tuple[str, ...]:
    """Return what each danger beside a cut means, once; not where that is told elsewhere."""
    there = {mind.danger for care in cares for mind in care.minds} - set(elsewhere)
    return tuple(f"{danger.value}: {MEANS[danger]}" for danger in Danger if danger in there)


def mind_text(minds: tuple[Mind, ...], most: int = 3) -> str:
    """Return the words beside a cut: the dangers, flaws of one danger together.

    What is so at this cut only comes first, as what is left out for room is so at others too.
    """
    together: dict[Danger, list[str]] = {}
    for mind in sorted(minds, key=_is_of_warp):
        together.setdefault(mind.danger, []).extend([mind.at] if mind.at else [])
    words = [
        f"{danger.value} {', '.join(dict.fromkeys(ids))}".strip()
        for danger, ids in together.items()
    ]
    more = len(words) - most
    # A single word takes no more room than saying that there is one.
    if more == 1 and len(words[-1]) <= len("1 more") + 1:
        more = 0
    return "; ".join(words[: len(words) - max(more, 0)]) + (f"; {more} more" if more > 0 else "")


def _is_of_warp(mind: Mind) -> bool:
    """Whether a danger comes from the warp of board or piece: the same at each of its cuts."""
    if mind.danger is Danger.CLOSING:
        return not mind.at
    return mind.danger in (Danger.TWIST, Danger.HOLLOW)


def saws_said(cares: tuple[CutCare, ...]) -> str:
    """Return in one line which cuts suit which saw: cuts 1-4: jig saw; 5-9: band saw."""
    orders: dict[str, list[int]] = {}
    for care in cares:
        orders.setdefault(care.saw, []).append(care.order)
    said = [f"{_runs(numbers)}: {saw}" for saw, numbers in orders.items()]
    return f"Saws for cuts {'. '.join(said)}." if said else ""


def _runs(numbers: list[int]) -> str:
    """Return whole numbers as runs: 1-4, 7."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{r[0]}-{r[-1]}" if len(r) > 2 else ", ".join(map(str, r)) for r in runs)
