"""From placements to pieces and cuts, in the order a shop makes them.

The board is crosscut into pieces of about the shop's piece length; then each piece is ripped into
strips, and the strips are cut to length. Sections too short for the machines stay together in one
piece until after milling; the cut that parts them is then a final one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from scanner.board.board import Board
from scanner.placement.layout import Cut, Piece, Placement
from scanner.placement.rules.end_trim import trim_mm
from scanner.placement.rules.ground import frame_of
from scanner.placement.shop import Shop
from scanner.placement.wanted.turned import blanks_of

SLACK_MM = 0.05
# Sizes are rounded up to tenths, so that neighbours may stand a tenth farther apart than a kerf: no
# saw takes that off by itself, it stays on the part.
_SLIVER_MM = 0.11
# A stretch of waste longer than this is cut away before milling (common practice, no source).
WASTE_WORTH_A_CUT_MM = 50.0
_TOO_SHORT, _UNLIKE_RIPS, _WASTE_INSIDE = 10.0, 0.5, 1.0

Indexed = tuple[int, Placement]


@dataclass(slots=True)
class _Saw:
    """Writes the cuts of one board down in order."""

    board: str
    cuts: list[Cut]

    def across(self, x: float, low: float, high: float, kind: Literal["crosscut", "final"]) -> None:
        self._add(kind, (x, low), (x, high))

    def along(self, y: float, left: float, right: float) -> None:
        self._add("rip", (left, y), (right, y))

    def _add(
        self,
        kind: Literal["crosscut", "rip", "final"],
        start: tuple[float, float],
        stop: tuple[float, float],
    ) -> None:
        order = len(self.cuts) + 1
        self.cuts.append(Cut(self.board, order, kind, _rounded(start), _rounded(stop)))


def _rounded(point: tuple[float, float]) -> tuple[float, float]:
    return round(point[0], 3), round(point[1], 3)


def divided(items: Sequence[Indexed], kerf: float, along: bool) -> list[list[Indexed]]:
    """Divide placements wherever a straight kerf fits between them; in rising order."""

    def span(item: Indexed) -> tuple[float, float]:
        p = item[1]
        return (p.x_mm, p.x_mm + p.length_mm) if along else (p.y_mm, p.y_mm + p.width_mm)

    groups: list[list[Indexed]] = []
    reach = float("-inf")
    for item in sorted(items, key=lambda item: (*span(item), item[0])):
        start, stop = span(item)
        if not groups or start >= reach + kerf - SLACK_MM:
            groups.append([])
        groups[-1].append(item)
        reach = max(reach, stop)
    return groups


def frees_all(items: Sequence[Indexed], kerf: float, is_exact: bool) -> bool:
    """Whether crosscut, rip, crosscut free every part; ``is_exact``: strips as wide as parts."""
    for section in divided(items, kerf, along=True):
        for strip in divided(section, kerf, along=False):
            if len(divided(strip, kerf, along=True)) != len(strip):
                return False
            lines = {(round(p.y_mm, 1), round(p.width_mm, 1)) for _, p in strip}
            if is_exact and len(lines) > 1:
                return False
    return True


def pieces_and_cuts(
    board: Board, items: Sequence[Indexed], shop: Shop
) -> tuple[list[Piece], list[Cut]]:
    """Return the pieces of one board and all its cuts.

    Of a turned part its blank is cut; slices, and parts nested in each other, are cut as one
    blank, and sawn apart after that.
    """
    blanks: dict[tuple[float, ...], list[int]] = {}
    squared: list[Indexed] = []
    for (n, _), p in zip(items, blanks_of([p for _, p in items]), strict=True):
        place = (p.x_mm, p.y_mm, p.length_mm, p.width_mm)
        is_shared = p.layer is not None or p.nest is not None
        if not is_shared or place not in blanks:
            squared.append((n, p))
        if is_shared:
            blanks.setdefault(place, []).append(n)
    with_slices = {numbers[0]: numbers for numbers in blanks.values()}
    pieces, cuts = _pieces_and_cuts(board, squared, shop)
    pieces = [
        replace(
            piece,
            placements=tuple(sorted(i for n in piece.placements for i in with_slices.get(n, [n]))),
        )
        for piece in pieces
    ]
    return pieces, cuts


def _pieces_and_cuts(
    board: Board, items: Sequence[Indexed], shop: Shop
) -> tuple[list[Piece], list[Cut]]:
    left, low, right, high = frame_of(board)
    kerf, half = shop.kerf_mm, shop.kerf_mm / 2
    saw = _Saw(board.id, [])
    sections = divided(items, kerf, along=True)
    groups = _grouped(sections, shop)
    pieces = []
    edge = left
    for n, (group, (start, stop)) in enumerate(
        zip(groups, _blanks(board, groups, shop), strict=True)
    ):
        every = [item for section in group for item in section]
        is_worth = start - edge > (SLACK_MM if n == 0 else WASTE_WORTH_A_CUT_MM)
        if is_worth:
            saw.across(start - half, low, high, "crosscut")
            edge = start
        if right - stop > SLACK_MM:
            saw.across(stop + half, low, high, "crosscut")
        else:
            stop = right
        numbers = tuple(sorted(i for i, _ in every))
        pieces.append(Piece(board.id, f"{board.id}-{n + 1}", round(edge, 3), stop, numbers))
        edge = stop + kerf
    for piece, group in zip(pieces, groups, strict=True):
        _saw_piece(saw, piece, group, (low, high), shop)
    return pieces, saw.cuts


def _blanks(
    board: Board, groups: Sequence[Sequence[Sequence[Indexed]]], shop: Shop
) -> list[tuple[float, float]]:
    """Return where each piece starts and stops: with waste left on where it is short.

    What goes over the jointer or through the planer is not shorter than these take; so a short
    piece keeps waste towards end B, then towards end A, as far as its neighbours leave room.
    """
    left, _, right, _ = frame_of(board)
    # An end that is to come off is not left on, where it can be helped.
    first, last = left + trim_mm(board.ends["A"], shop), right - trim_mm(board.ends["B"], shop)
    spans = [
        (
            min(p.x_mm for section in group for _, p in section),
            max(p.x_mm + p.length_mm for section in group for _, p in section),
        )
        for group in groups
    ]
    blanks: list[tuple[float, float]] = []
    for n, (start, stop) in enumerate(spans):
        before = blanks[-1][1] + shop.kerf_mm if blanks else first
        after = spans[n + 1][0] - shop.kerf_mm if n + 1 < len(spans) else last
        stop = max(stop, min(start + shop.shortest_piece_mm, after))
        start = min(start, max(stop - shop.shortest_piece_mm, before))
        blanks.append((start, stop))
    return blanks


def _saw_piece(
    saw: _Saw,
    piece: Piece,
    group: Sequence[Sequence[Indexed]],
    across: tuple[float, float],
    shop: Shop,
) -> None:
    if len(group) == 1 or _rip_alike(group, shop.kerf_mm):
        every = [item for section in group for item in section]
        _saw_section(saw, every, piece.x0_mm, piece.x1_mm, across, shop)
        return
    edge = piece.x0_mm
    spans = []
    for n, section in enumerate(group):
        stop = max(p.x_mm + p.length_mm for _, p in section)
        if n < len(group) - 1:
            saw.across(stop + shop.kerf_mm / 2, *across, "final")
        else:
            stop = piece.x1_mm
        spans.append((edge, stop))
        edge = stop + shop.kerf_mm
    for section, (start, stop) in zip(group, spans, strict=True):
        _saw_section(saw, section, start, stop, across, shop)


def _saw_section(
    saw: _Saw,
    section: Sequence[Indexed],
    start: float,
    stop: float,
    across: tuple[float, float],
    shop: Shop,
) -> None:
    kerf, half = shop.kerf_mm, shop.kerf_mm / 2
    low, high = across
    strips = divided(section, kerf, along=False)
    bounds = []
    edge = low
    # A strip that is ripped to width after milling keeps less than a second blade would turn to
    # dust: no blade runs along the side of its own kerf.
    close = _SLIVER_MM if shop.cut_class == "three_stage" else kerf
    for n, strip in enumerate(strips):
        y0 = min(p.y_mm for _, p in strip)
        y1 = max(p.y_mm + p.width_mm for _, p in strip)
        # The wood's own edge is made straight, however little that takes.
        if y0 - edge > (close if n else SLACK_MM):
            saw.along(y0 - half, start, stop)
            edge = y0
        if high - y1 > SLACK_MM:
            saw.along(y1 + half, start, stop)
        else:
            y1 = high
        bounds.append((edge, y1))
        edge = y1 + kerf
    for strip, (y0, y1) in zip(strips, bounds, strict=True):
        edge = start
        for _, p in sorted(strip, key=lambda item: item[1].x_mm):
            if p.x_mm - edge > _SLIVER_MM:
                saw.across(p.x_mm - half, y0, y1, "final")
                edge = p.x_mm
            end = p.x_mm + p.length_mm
            if stop - end + max(0.0, p.x_mm - edge) > _SLIVER_MM:
                saw.across(end + half, y0, y1, "final")
            edge = end + kerf


def _rip_alike(group: Sequence[Sequence[Indexed]], kerf: float) -> bool:
    """Whether the rips of these sections run on from one to the next."""

    def lines(section: Sequence[Indexed]) -> list[tuple[float, float]]:
        return [
            (min(p.y_mm for _, p in strip), max(p.y_mm + p.width_mm for _, p in strip))
            for strip in divided(section, kerf, along=False)
        ]

    first = lines(group[0])
    return all(
        len(own := lines(section)) == len(first)
        and all(
            abs(a[0] - b[0]) < SLACK_MM and abs(a[1] - b[1]) < SLACK_MM
            for a, b in zip(own, first, strict=True)
        )
        for section in group[1:]
    )


def _grouped(sections: list[list[Indexed]], shop: Shop) -> list[list[list[Indexed]]]:
    """Group sections into pieces: near the piece length, not shorter than the machines take."""
    starts = [min(p.x_mm for _, p in section) for section in sections]
    stops = [max(p.x_mm + p.length_mm for _, p in section) for section in sections]

    def cost(i: int, j: int) -> float:
        length = stops[j] - starts[i]
        total = abs(length - shop.piece_length_mm) / shop.piece_length_mm
        if length < shop.shortest_piece_mm:
            total += _TOO_SHORT
        if j > i and not _rip_alike(sections[i : j + 1], shop.kerf_mm):
            total += _UNLIKE_RIPS * (j - i)
        for k in range(i, j):
            if starts[k + 1] - stops[k] > WASTE_WORTH_A_CUT_MM:
                total += _WASTE_INSIDE
        return total

    best = [0.0] + [float("inf")] * len(sections)
    back = [0] * (len(sections) + 1)
    for j in range(len(sections)):
        for i in range(j, -1, -1):
            # A lone section is always allowed; joined ones not much beyond the piece length.
            if j > i and stops[j] - starts[i] > 1.5 * shop.piece_length_mm:
                break
            total = best[i] + cost(i, j)
            if total < best[j + 1]:
                best[j + 1], back[j + 1] = total, i
    groups = []
    j = len(sections)
    while j > 0:
        groups.append(sections[back[j] : j])
        j = back[j]
    return groups[::-1]
