"""What speaks for a bar being a board: its lines, its looks against its rim, its place."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scanner.vision.ground.bars import LEAST_STEP, SHORTEST_MM, Bar, Doubles, Steps
from scanner.vision.ground.cells import ACROSS_MM, ALONG_MM, KINDS, Cells, Singles

FACTS = (
    "weaker_line",
    "stronger_line",
    "line_gaps",
    "unlike_rim",
    "unlike_rest",
    "rims_alike",
    "inner_line",
    "grain",
    "weaker_end",
    "stronger_end",
    "width",
    "length",
    "gap_to_rule",
    "beside_rule",
    "columns_like_wood",
    "lighter",
    "redder",
    "yellower",
)
# The rim starts past the side face and contact shadow.
_RIM_GAP_MM, _RIM_MM = 16.0, 60.0
# Lines this near to a bar's own are the foot of its side or its shadow's border.
_OWN_LINE_MM = 24.0
_END_MM = 72.0
# Each end's share of a bar that may lie past the board's own end: one in so many.
_IN_QUESTION = 6
# Where both ends lie in the unseen.
_UNSEEN_END = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Slope:
    """The cells turned by one slope, and sums over them from which any bar is read at once.

    Attributes
    ----------
    steps
        As `Steps.along` gives them.
    sums
        (R + 1, C + 1, KINDS + 5): known cells of each kind, then known cells' looks.
    """

    cells: Cells
    steps: Singles
    sums: Doubles

    @staticmethod
    def of(cells: Cells, steps: Steps, slope: float) -> Slope:
        """Return the cells turned and summed."""
        turned = cells.turned(slope)
        rows, columns = turned.labels.shape
        layers = np.zeros((rows, columns, KINDS + 5), dtype=np.float32)
        kinds = turned.labels[..., None] == np.arange(KINDS)
        layers[..., :KINDS] = kinds & turned.known[..., None]
        layers[..., KINDS:] = turned.looks * turned.known[..., None]
        sums = np.zeros((rows + 1, columns + 1, KINDS + 5))
        sums[1:, 1:] = layers.cumsum(axis=0, dtype=np.float64).cumsum(axis=1)
        return Slope(turned, steps.along(slope), sums)

    def total(self, row0: float, row1: float, column0: float, column1: float) -> Doubles:
        """Return the sums (KINDS + 5) over a rectangle, cut to the grid."""
        rows, columns = self.cells.labels.shape
        a, b = (int(np.clip(round(row), 0, rows)) for row in (row0, row1))
        c, d = (int(np.clip(round(column), 0, columns)) for column in (column0, column1))
        s = self.sums
        return np.asarray(s[b, d] - s[a, d] - s[b, c] + s[a, c])

    def columns(self, row0: float, row1: float) -> Doubles:
        """Return each column's sums (C, KINDS + 5) between two rows."""
        rows = self.cells.labels.shape[0]
        a, b = (int(np.clip(round(row), 0, rows)) for row in (row0, row1))
        return np.asarray(np.diff(self.sums[b] - self.sums[a], axis=0))

    def rims(self, bar: Bar) -> tuple[Doubles, Doubles]:
        """Return the sums over the floor above and below a bar."""
        gap, rim = _RIM_GAP_MM / ACROSS_MM, _RIM_MM / ACROSS_MM
        return (
            self.total(bar.row0 - gap - rim, bar.row0 - gap, bar.column0, bar.column1),
            self.total(bar.row1 + gap, bar.row1 + gap + rim, bar.column0, bar.column1),
        )


def unlike(a: Doubles, b: Doubles) -> float:
    """Return the Jensen-Shannon divergence (base 2) of two sums' kinds, 0 to 1."""
    p, q = (np.asarray(one[:KINDS]) / max(float(one[:KINDS].sum()), 1.0) for one in (a, b))

    def entropy(shares: Doubles) -> float:
        return float(-(shares * np.log2(np.maximum(shares, 1e-12))).sum())

    if p.sum() <= 0 or q.sum() <= 0:
        return 0.0
    return entropy(0.5 * (p + q)) - 0.5 * (entropy(p) + entropy(q))


def kind_odds(slope: Slope, bar: Bar, *, at_large: bool = False) -> Doubles:
    """Return (KINDS,) log odds of each kind of look: the bar's wood against the floor beside.

    ``at_large``: the floor is as much what lies on the ground at large as what lies beside the
    bar, and the wood is what lies in its middle: the bar's ends are in question. Seen on rendered
    photos: a board in the shade, its end beside sunlit floor of which its rims show little, ran on
    over that floor to the frame.
    """
    inset = max(1.0, (bar.row1 - bar.row0) / 8)
    back = (bar.column1 - bar.column0) / _IN_QUESTION if at_large else 0.0
    wood = slope.total(bar.row0 + inset, bar.row1 - inset, bar.column0 + back, bar.column1 - back)[
        :KINDS
    ]
    above, below = slope.rims(bar)
    floor = (above + below)[:KINDS]
    if at_large:
        away = (_RIM_GAP_MM + _RIM_MM) / ACROSS_MM
        near = slope.total(bar.row0 - away, bar.row1 + away, bar.column0, bar.column1)
        rest = np.maximum(slope.sums[-1, -1] - near, 0.0)[:KINDS]
        floor = floor / max(floor.sum(), 1.0) + rest / max(rest.sum(), 1.0)
        floor = floor / max(floor.sum(), 1e-9) * max(float((above + below)[:KINDS].sum()), 1.0)
    # A hundredth of every kind: what was not seen beside this board is not impossible.
    shares = [(one + 0.01 * one.sum() + 1) / (one.sum() * 1.14 + 14) for one in (wood, floor)]
    return np.asarray(np.clip(np.log(shares[0] / shares[1]), -3.0, 3.0))


def likeness(slope: Slope, bar: Bar, *, at_large: bool = False) -> Doubles:
    """Return (C,) each column's mean log odds, between a bar's lines, of wood against floor."""
    inset = max(1.0, (bar.row1 - bar.row0) / 8)
    inside = slope.columns(bar.row0 + inset, bar.row1 - inset)[:, :KINDS]
    return np.asarray(
        inside @ kind_odds(slope, bar, at_large=at_large) / np.maximum(inside.sum(axis=1), 1.0)
    )


def with_own_ends(slope: Slope, bar: Bar, *, at_large: bool = False) -> Bar:
    """Return the bar from where to where its lines and its looks go on."""
    like = likeness(slope, bar, at_large=at_large)
    lines = slope.steps[[bar.row0, bar.row1]] - LEAST_STEP
    value = np.clip(like, -1.5, 1.5) + 0.12 * lines.sum(axis=0)
    middle = (bar.column0 + bar.column1) // 2
    right = np.cumsum(value[middle:])
    left = np.cumsum(value[:middle][::-1])
    column1 = middle + 1 + int(right.argmax()) if len(right) else bar.column1
    column0 = middle - 1 - int(left.argmax()) if len(left) else bar.column0
    return replace(bar, column0=max(column0, 0), column1=column1)


def end_steps(slope: Slope, bar: Bar) -> tuple[float, float]:
    """Return how unlike the looks just inside and just past each end are, 0 to 1.

    An end that runs into the unseen tells nothing: it counts like the other one.
    """
    reach = _END_MM / ALONG_MM
    inset = (bar.row1 - bar.row0) / 8
    enough = 0.5 * reach * (bar.row1 - bar.row0 - 2 * inset)
    found: list[float] = []
    for at, way in ((bar.column0, -1), (bar.column1, 1)):
        best = -1.0
        for here in (at - 1, at, at + 1):
            spans = [sorted((here, here + sign * way * reach)) for sign in (-1, 1)]
            inside, past = (
                slope.total(bar.row0 + inset, bar.row1 - inset, *span) for span in spans
            )
            if past[:KINDS].sum() > enough:
                best = max(best, unlike(inside, past))
        found.append(best)
    known = [one for one in found if one >= 0] or [_UNSEEN_END]
    left, right = (one if one >= 0 else known[0] for one in found)
    return left, right


def facts_of(slope: Slope, bar: Bar) -> Doubles:
    """Return the facts (len(FACTS),) of a bar."""
    lines = slope.steps[:, bar.column0 : bar.column1]
    upper, lower = lines[bar.row0], lines[bar.row1]
    means = sorted((float(upper.mean()), float(lower.mean())))
    inset = max(1.0, (bar.row1 - bar.row0) / 8)
    inside = slope.total(bar.row0 + inset, bar.row1 - inset, bar.column0, bar.column1)
    above, below = slope.rims(bar)
    away = (_RIM_GAP_MM + _RIM_MM) / ACROSS_MM
    near = slope.total(bar.row0 - away, bar.row1 + away, bar.column0 - 2, bar.column1 + 2)
    rest = slope.sums[-1, -1] - near
    own = round(_OWN_LINE_MM / ACROSS_MM)
    within = lines[bar.row0 + own : bar.row1 - own + 1]
    count = [max(float(one[:KINDS].sum()), 1.0) for one in (inside, above + below)]
    unrest = [
        float(one[KINDS + 4] - one[KINDS + 3]) / n
        for one, n in zip((inside, above + below), count, strict=True)
    ]
    length, width = (bar.column1 - bar.column0) * ALONG_MM, (bar.row1 - bar.row0) * ACROSS_MM
    ends = sorted(end_steps(slope, bar))
    gap, beside = _to_rule(slope, bar)
    return np.array(
        [
            *means,
            float((np.minimum(upper, lower) < LEAST_STEP).mean()),
            unlike(inside, above + below),
            unlike(inside, rest),
            unlike(above, below) if min(above[:KINDS].sum(), below[:KINDS].sum()) > 20 else 0.3,
            float(within.mean(axis=1).max()) if len(within) else 0.0,
            unrest[0] - unrest[1],
            *ends,
            np.log(width / 150.0),
            np.log(max(length, SHORTEST_MM) / 1500.0),
            min(gap, 600.0) / 100.0,
            beside,
            float((likeness(slope, bar)[bar.column0 : bar.column1] > 0).mean()),
            # A shadow is darker and bluer than the floor beside it.
            *(inside[KINDS : KINDS + 3] / count[0] - (above + below)[KINDS : KINDS + 3] / count[1]),
        ]
    )


def _to_rule(slope: Slope, bar: Bar) -> tuple[float, float]:
    """Return the distance from the rule, mm, and the share of the shorter one beside the other."""
    rows, columns = np.nonzero(slope.cells.rule)
    if not len(rows):
        return 0.0, 1.0
    first, last = int(columns.min()), int(columns.max()) + 1
    overlap = min(last, bar.column1) - max(first, bar.column0)
    shorter = min(last - first, bar.column1 - bar.column0)
    near = rows[(columns >= bar.column0) & (columns < bar.column1)]
    at = float(np.median(near if len(near) else rows))
    gap = max(bar.row0 - at, at - bar.row1, 0.0) * ACROSS_MM
    return gap, max(overlap, 0) / max(shorter, 1)
