"""Checks and splits: thin dark lines along the grain that stand out from the lines around them."""

import numpy as np
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.dark_lines import find_lines
from scanner.vision.flaws.judge import JudgedSpot
from scanner.vision.flaws.line_measures import LINE_FEATURES, Line, are_one, outline_of
from scanner.vision.flaws.line_model import CRACK
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Surface

# A crack from an end that opens this wide and runs this far is called a split.
_SPLIT_WIDTH_MM = 1.6
_SPLIT_REACH_MM = 60.0

_LEAST_SCORE = 0.35


def find_checks(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return the possible checks and splits of a face."""
    flaws = []
    lines = find_lines(surface)
    if not lines:
        return ()
    scores = CRACK.odds(np.array([line.measures for line in lines]), LINE_FEATURES)
    taken: list[Line] = []
    for index in np.argsort(-scores, kind="stable"):
        line, score = lines[index], scores[index]
        if score < _LEAST_SCORE:
            break
        if any(are_one(line, other) for other in taken):
            continue
        taken.append(line)
        outline = outline_of(line, surface)
        if outline.is_empty or _within(outline, spots):
            continue
        x0, _, x1, _ = outline.bounds
        board = _extent(surface)
        reach = None
        if line.starts_at_end:
            reach = x1 - board[0] if line.end == "left" else board[1] - x0
        is_split = reach is not None and reach > _SPLIT_REACH_MM and line.width_mm > _SPLIT_WIDTH_MM
        flaws.append(
            Flaw(
                id="",
                kind=FlawKind.SPLIT if is_split else FlawKind.CHECK,
                outlines={1: outline},
                reach_mm=reach,
                score=round(float(score), 3),
                reason=_reason(line),
                u_mm=surface.u_mm,
            )
        )
    return tuple(flaws)


def _within(outline: Polygon, spots: tuple[JudgedSpot, ...]) -> bool:
    """Return whether a line is a part of a knot, hole or bark pocket."""
    return any(
        outline.intersection(spot.outline.buffer(3.0)).area > 0.5 * outline.area for spot in spots
    )


def _reason(line: Line) -> str:
    where = f" from the {line.end} end" if line.starts_at_end else ""
    dark = "black line" if _of(line, "browner") < 0.03 else "dark line"
    said = f"thin {dark} along the grain{where}, {line.length_mm:.0f} mm long"
    return said if _of(line, "stands_out") > 0 else f"{said}, like other lines of this face"


def _of(line: Line, name: str) -> float:
    return float(line.measures[LINE_FEATURES.index(name)])


def _extent(surface: Surface) -> tuple[float, float]:
    columns = np.nonzero(surface.wood.any(axis=0))[0]
    x0 = surface.origin_mm[0] + float(columns[0]) * WORK_MM_PER_PX
    return x0, surface.origin_mm[0] + float(columns[-1]) * WORK_MM_PER_PX
