"""Where on a face a piece's grain lies: windows voting, then a close look at the best places."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.second_look.grain_print import GrainPrint

Singles = NDArray[np.float32]

# A window is long enough to hold a wiggle of the rings, narrow enough to shift as one.
_WINDOW_MM = (96.0, 50.0)
_STEP_MM = (58.0, 30.0)
# Two millimetres planed off move a ring line that leans by 20 degrees by 5 mm across the grain.
_ACROSS_MM = 8.0
# At a quick look, 3 mm a pixel and windows side by side find the same places as finer ones.
_COARSE = 3
_LEAST_WOOD = 0.6
# No single window says more than this: two dark ends of streaks look alike on any board.
_MOST_R = 0.6
_BEYOND = 0.15
# A piece lies on its board but for what the outline's U lets hang over.
_LEAST_ON_BOARD = 0.93
_PLACES = 4
APART_MM = 25.0
# A shift so near to the end of the reach, px, may have a better one beyond.
_RIM = 1
# Shifts that fit so nearly as well as the best may be it (tests/bench/pieces.py, 8600-8632).
_ALIKE = 0.1
_PAD_MM = 70.0
# Windows of one row lie at one depth of the rings: they shift nearly as one.
_ROW_LOOSE_MM = 3.0
# Of the two patterns, lines tell board and height, what changes along tells the place along.
# 0.2: tests/bench/pieces.py on development seeds.
_LINES_WEIGHT = 0.2
# So near a place along is known where a shift fits better than those round it (as above).
PEAK_U_MM = 6.0


@dataclass(frozen=True, slots=True)
class Place:
    """A place of a piece on a face's print.

    ``x_mm``, ``y_mm``: of the piece's first pixel, counted from the face print's first pixel, as
    the piece lies there (turned end for end or not). ``along``, ``lines``: how much of its windows'
    pattern the face explains there (mean of -log(1 - r^2), r their correlation). ``elsewhere``: the
    score of the windows that do not touch the one that fits best; 0 where there are none.
    ``along_u_mm``: U of ``x_mm``.
    """

    x_mm: float
    y_mm: float
    is_turned: bool
    along: float
    lines: float
    elsewhere: float = 0.0
    along_u_mm: float = PEAK_U_MM

    @property
    def score(self) -> float:
        """How well the place fits; the larger the better."""
        return self.along + _LINES_WEIGHT * self.lines


@dataclass(frozen=True, slots=True, eq=False)
class _Window:
    u: int
    v: int
    pattern: Singles
    weight: float

    def touches(self, other: "_Window") -> bool:
        """Whether two windows show wood in common."""
        high, wide = other.pattern.shape
        return bool(abs(self.u - other.u) < wide and abs(self.v - other.v) < high)


@dataclass(frozen=True, slots=True, eq=False)
class _Profile:
    """What a pattern's windows explain at each shift along, and their mean shift across, px.

    ``windows``: each with what it explains at each shift.
    """

    explained: NDArray[np.float64]
    across: NDArray[np.float64]
    windows: tuple[tuple[_Window, Singles], ...]


def rough_places(piece: GrainPrint, face: GrainPrint) -> tuple[Place, ...]:
    """Return the likeliest places of a piece on a face at a quick look, both ways round."""
    return tuple(
        place for is_turned in (False, True) for place in _coarse(piece, face, is_turned=is_turned)
    )


def _windows(
    pattern: Singles, wood: Singles, mm_per_px: float, step_mm: tuple[float, float] = _STEP_MM
) -> list[_Window]:
    rows, columns = pattern.shape
    wide = min(round(_WINDOW_MM[0] / mm_per_px), columns)
    high = min(round(_WINDOW_MM[1] / mm_per_px), rows)
    out = []
    for v in _starts(rows, high, step_mm[1] / mm_per_px):
        for u in _starts(columns, wide, step_mm[0] / mm_per_px):
            here = np.s_[v : v + high, u : u + wide]
            spread = float(pattern[here].std())
            if wood[here].mean() >= _LEAST_WOOD and spread > 1e-3:
                out.append(_Window(u, v, np.ascontiguousarray(pattern[here]), spread))
    return out


def _starts(whole: int, part: int, step: float) -> list[int]:
    count = max(1, round((whole - part) / step) + 1)
    return sorted({round(float(s)) for s in np.linspace(0, whole - part, count)})


def _explained(base: Singles, pattern: Singles) -> Singles:
    """Return -log(1 - r^2) of a window at all places of a picture; 0 where r is negative."""
    like = cv2.matchTemplate(base, pattern, cv2.TM_CCOEFF_NORMED)
    r = np.clip(np.nan_to_num(like, nan=0.0, posinf=0.0, neginf=0.0), 0, 1)
    # Beyond that it still grows a little, so that the best of many good shifts is the best.
    r = np.minimum(r, _MOST_R) + _BEYOND * np.maximum(r - _MOST_R, 0)
    return np.asarray(-np.log1p(-r * r), dtype=np.float32)


def _padded(part: Singles, pad: int) -> Singles:
    framed = cv2.copyMakeBorder(part, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0)
    return np.asarray(framed, dtype=np.float32)


def _coarse(piece: GrainPrint, face: GrainPrint, *, is_turned: bool) -> list[Place]:
    laid = (piece.turned() if is_turned else piece).coarser(_COARSE)
    ground = face.coarser(_COARSE)
    scale = ground.mm_per_px
    pad = round(_PAD_MM / 2 / scale)
    rows, columns = laid.wood.shape
    extent = (
        ground.wood.shape[0] + 2 * pad - rows + 1,
        ground.wood.shape[1] + 2 * pad - columns + 1,
    )
    if min(extent) < 1:
        return []
    reach = np.ones((2 * round(_ACROSS_MM / scale) + 1, 1), np.uint8)
    sums = {}
    for name in ("along", "lines"):
        pattern, base = getattr(laid, name), _padded(getattr(ground, name), pad)
        total, weight = np.zeros(extent, dtype=np.float32), 0.0
        for window in _windows(pattern, laid.wood, scale, _WINDOW_MM):
            near = cv2.dilate(_explained(base, window.pattern), reach)
            total += window.weight * near[window.v :, window.u :][: extent[0], : extent[1]]
            weight += window.weight
        sums[name] = total / max(weight, 1e-6)
    on_board = _on_board(laid.wood, _padded(ground.wood, pad))
    both = sums["along"] + np.float32(_LINES_WEIGHT) * sums["lines"]
    both[on_board < _LEAST_ON_BOARD] = -1
    out, apart = [], round(APART_MM / scale)
    for _ in range(_PLACES):
        _, most, _, (x, y) = cv2.minMaxLoc(both)
        if most <= 0:
            break
        seen = (float(sums["along"][y, x]), float(sums["lines"][y, x]))
        out.append(Place((x - pad) * scale, (y - pad) * scale, is_turned, *seen))
        both[:, max(0, x - apart) : x + apart + 1] = -1
    return out


def _on_board(piece: Singles, board: Singles) -> Singles:
    """Return which share of the piece lies on the board's wood at each place."""
    # The rim that a print leaves out is wood too.
    grown = cv2.dilate((board > 0.5).astype(np.float32), np.ones((5, 5), np.uint8))
    cover = cv2.matchTemplate(grown, (piece > 0.5).astype(np.float32), cv2.TM_CCORR)
    return np.asarray(cover / max(float((piece > 0.5).sum()), 1.0), dtype=np.float32)


def look_closely(
    piece: GrainPrint,
    face: GrainPrint,
    rough: Place,
    reach_mm: float = APART_MM,
    across_mm: float = _ACROSS_MM,
) -> Place:
    """Return a rough place moved to where the piece fits best near it.

    ``reach_mm`` along and ``across_mm`` across the board are looked at. Where too little of the
    piece lies on the face the place explains nothing. Where shifts up to the end of the
    reach fit nearly as well as the best, the grain does not tell where along: the rough place
    stays, give or take the reach.
    """
    laid = piece.turned() if rough.is_turned else piece
    scale = face.mm_per_px
    pad = round((_PAD_MM + reach_mm + across_mm) / scale)
    at = (round(rough.x_mm / scale) + pad, round(rough.y_mm / scale) + pad)
    reach = (max(1, round(reach_mm / scale)), round((across_mm + 2) / scale))
    profiles: dict[str, _Profile] = {}
    for name in ("along", "lines"):
        base = _padded(getattr(face, name), pad)
        windows = _windows(getattr(laid, name), laid.wood, scale)
        found = _profile(base, windows, at, reach, loose=round(_ROW_LOOSE_MM / scale))
        if found is None:
            return Place(rough.x_mm, rough.y_mm, rough.is_turned, 0.0, 0.0)
        profiles[name] = found
    along, lines = profiles["along"], profiles["lines"]
    fits = along.explained + _LINES_WEIGHT * lines.explained
    best = int(fits.argmax())
    alike = np.flatnonzero(fits >= (1 - _ALIKE) * fits[best])
    low, high = int(alike[0]), int(alike[-1])
    is_told = low > _RIM and high < len(fits) - 1 - _RIM
    return Place(
        rough.x_mm + ((best - reach[0]) * scale if is_told else 0.0),
        rough.y_mm + float(lines.across[best]) * scale,
        rough.is_turned,
        float(along.explained[best]),
        float(lines.explained[best]),
        _elsewhere(along, lines, best),
        max(PEAK_U_MM, max(best - low, high - best) * scale if is_told else reach_mm),
    )


def _elsewhere(along: _Profile, lines: _Profile, best: int) -> float:
    """Return the score at a shift without the windows that touch the one that fits best.

    A knot stands in many windows at once, and one knot looks like another.
    """
    spot = max(along.windows, key=lambda seen: seen[0].weight * float(seen[1][best]))[0]
    means = []
    for profile in (along, lines):
        far = [
            (one.weight, float(seen[best]))
            for one, seen in profile.windows
            if not one.touches(spot)
        ]
        share = sum(weight for weight, _ in far)
        means.append(sum(weight * seen for weight, seen in far) / share if share else 0.0)
    return means[0] + _LINES_WEIGHT * means[1]


def _profile(
    base: Singles,
    windows: list[_Window],
    at: tuple[int, int],
    reach: tuple[int, int],
    *,
    loose: int,
) -> _Profile | None:
    """Return what the windows explain near a place; None where too few lie on the picture."""
    rows: dict[int, list[tuple[_Window, Singles]]] = {}
    used = 0
    for window in windows:
        top, left = at[1] + window.v - reach[1], at[0] + window.u - reach[0]
        bottom = top + window.pattern.shape[0] + 2 * reach[1]
        right = left + window.pattern.shape[1] + 2 * reach[0]
        if top < 0 or left < 0 or bottom > base.shape[0] or right > base.shape[1]:
            continue
        explained = _explained(base[top:bottom, left:right], window.pattern)
        kept = np.asarray(cv2.dilate(explained, np.ones((loose, 1), np.uint8)), dtype=np.float32)
        rows.setdefault(window.v, []).append((window, kept))
        used += 1
    if not used or used < 0.5 * len(windows):
        return None
    total = height = np.zeros(2 * reach[0] + 1)
    weight = 0.0
    each: list[tuple[_Window, Singles]] = []
    for row in rows.values():
        share = sum(one.weight for one, _ in row)
        mean = np.sum([one.weight * kept for one, kept in row], axis=0) / share
        at_best = mean.argmax(axis=0)
        total = total + share * mean.max(axis=0)
        height = height + share * (at_best - reach[1])
        weight += share
        each += [(one, kept[at_best, np.arange(len(at_best))]) for one, kept in row]
    return _Profile(total / weight, height / weight, tuple(each))
