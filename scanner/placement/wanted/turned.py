"""Parts turned with the grain: the ground a turned part takes, and the blank it is sawn from.

A turned part is sawn out of an upright blank, the rectangle round it: crosscuts and rips free the
blank, the part is then marked on it along the grain. So for saws the blank counts, for wood and
flaws the part itself.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import nearest_points

from scanner.placement.layout import Placement
from scanner.placement.parts import Part
from scanner.placement.wanted.items import tenths_up
from scanner.placement.wanted.sets import Arrangement, Member, Size

# The turned part is covered by this many upright boxes at most, each as high as it is there.
_MOST_SLICES = 24
SHAPE_SLICES = 24
# No box is higher than the part itself by more than this, where that needs no more slices.
_STEP_MM = 2.0


def turned_shape(p: Placement) -> Polygon:
    """Return the ground a part takes, mm, turned about its corner from x towards y."""
    shape = box(p.x_mm, p.y_mm, p.x_mm + p.length_mm, p.y_mm + p.width_mm)
    return affinity.rotate(shape, p.angle_deg, origin=(p.x_mm, p.y_mm)) if p.angle_deg else shape


def blank_of(p: Placement) -> Placement:
    """Return the upright rectangle round a part as a placement; the part itself if not turned."""
    if not p.angle_deg:
        return p
    x0, y0, x1, y1 = turned_shape(p).bounds
    return replace(p, x_mm=x0, y_mm=y0, length_mm=x1 - x0, width_mm=y1 - y0, angle_deg=0.0)


def blanks_of(placements: Sequence[Placement]) -> list[Placement]:
    """Return what is sawn out for each placement: its own blank, or the blank of its nest."""
    blanks = [blank_of(p) for p in placements]
    nests: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    for p in blanks:
        if p.nest is not None and p.state != "spoiled":
            nests[p.board, p.nest].append(p)
    if not nests:
        return blanks
    return [nest_blank(p, nests.get((p.board, p.nest or 0), [])) for p in blanks]


def sawn_blanks(placements: Sequence[Placement]) -> list[Placement]:
    """Return each blank that is sawn out, once: slices and nested parts share theirs."""
    once: dict[tuple[float, ...], Placement] = {}
    found = []
    for p in blanks_of(placements):
        place = (p.x_mm, p.y_mm, p.length_mm, p.width_mm)
        if (p.layer is None and p.nest is None) or place not in once:
            found.append(p)
        once[place] = p
    return found


def nest_blank(p: Placement, nest: Sequence[Placement]) -> Placement:
    """Return the rectangle round a nest that holds a part; the part itself where there is none."""
    if not nest:
        return p
    x0, y0 = min(q.x_mm for q in nest), min(q.y_mm for q in nest)
    length = max(q.x_mm + q.length_mm for q in nest) - x0
    width = max(q.y_mm + q.width_mm for q in nest) - y0
    return replace(p, x_mm=x0, y_mm=y0, length_mm=length, width_mm=width)


def blank_size_mm(length: float, width: float, angle_deg: float) -> tuple[float, float]:
    """Return length and width of the blank of a part turned by an angle."""
    sine, cosine = abs(math.sin(math.radians(angle_deg))), math.cos(math.radians(angle_deg))
    return length * cosine + width * sine, length * sine + width * cosine


def corner_in_blank_mm(length: float, width: float, angle_deg: float) -> tuple[float, float]:
    """Return where the part's own corner lies from the blank's corner of smallest x and y."""
    sine = math.sin(math.radians(angle_deg))
    return (width * sine, 0.0) if sine > 0 else (0.0, -length * sine)


def slices_of(
    part: Part, size_mm: tuple[float, float], angle_deg: float, row: int, kerf: int
) -> tuple[Arrangement, Size]:
    """Return upright boxes that cover a turned part, in whole tenths and rows, and its blank."""
    length, width = size_mm
    dx, dy = corner_in_blank_mm(length, width, angle_deg)
    shape = turned_shape(Placement("", 1, "", dx, dy, length, width, angle_deg))
    outer = blank_size_mm(length, width, angle_deg)
    steps = math.ceil(outer[0] * math.tan(math.radians(abs(angle_deg))) / _STEP_MM)
    return cover_of(part, shape, outer, min(_MOST_SLICES, max(2, steps)), row, kerf)


def cover_of(
    part: Part, shape: Polygon, outer: tuple[float, float], count: int, row: int, kerf: int
) -> tuple[Arrangement, Size]:
    """Return upright boxes that cover a shape on its blank (``outer`` mm), and the blank."""
    members = []
    for n in range(count):
        x0, x1 = outer[0] * n / count, outer[0] * (n + 1) / count
        there = shape.intersection(box(x0, -1.0, x1, outer[1] + 1.0))
        if there.is_empty:
            # Only blank: a hair of it, so that the blank's whole length is asked for.
            _, low, _, _ = nearest_points(box(x0, 0.0, x1, outer[1]), shape)[1].bounds
            high = low
        else:
            _, low, _, high = there.bounds
        first = math.floor(low * 10 / row + 1e-9)
        across = max(tenths_up(high) - first * row, 1)
        along = math.floor(x0 * 10 + 1e-6)
        size = Size.of(tenths_up(x1) - along, across, row, kerf)
        members.append(Member(part, size, along, first))
    return tuple(members), Size.of(tenths_up(outer[0]), tenths_up(outer[1]), row, kerf)
