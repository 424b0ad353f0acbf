"""Where the board lies in the flattened ground: one long bar that is unlike the floor around it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon, box

from scanner.errors import PhotoError
from scanner.geometry.polygons import polygon_of
from scanner.vision.edges import looks_of
from scanner.vision.picture import FacePicture

Doubles = NDArray[np.float64]
Rows = NDArray[np.intp] | int

_WORK_MM_PER_PX = 5.0
_KINDS = 14
_NARROWEST_MM = 50.0
_WIDEST_MM = 480.0
_SHORTEST_MM = 280.0
_RING_MM = 45.0
# Share of a bar that may lie on the rule: a pixel row or two.
_MOST_RULE = 0.02
_ANGLES_DEG = tuple(float(a) for a in range(-12, 13, 2))
# Ends are moved out block by block while a block is this unlike the floor above and below.
_BLOCK_MM = 60.0
_STANDS_OUT = 0.5
# Separation (see `_Bars.separation`) under which a bar is not taken for a board.
_LEAST_SEPARATION = 0.55
# A second bar at least this separate from its rim and this unlike the rest of the floor, at least
# this long beside the first and this slender, is a board too.
_SECOND_SEPARATION = 0.7
_SECOND_STRANGE = 0.55
_SECOND_LENGTH = 0.5
_SECOND_SLENDER = 3.0


@dataclass(frozen=True, slots=True)
class BoardPlace:
    """A board's rough place.

    Attributes
    ----------
    outline
        Rough rectangle, ground frame, mm.
    angle_rad
        Direction of the board's length, from x towards y.
    length_mm, width_mm
        Of the rectangle.
    separation
        How unlike the board is to the floor around, 0 to 1.
    strangeness
        How unlike it is to all the rest of the picture, 0 to 1.
    """

    outline: Polygon
    angle_rad: float
    length_mm: float
    width_mm: float
    separation: float
    strangeness: float


def locate_board(ground: FacePicture, rule_area: Polygon, name: str) -> BoardPlace:
    """Return where the board lies.

    Parameters
    ----------
    ground
        Flat picture of the floor around the rule, at the height of the board's face; x along the
        rule.
    rule_area
        Where the rule or strip lies in it, mm.
    name
        File name, for messages.

    Raises
    ------
    PhotoError
        No board, two boards, or a board that runs out of the picture.
    """
    bars = _Bars(ground, rule_area)
    best = bars.best()
    if best is None or best.separation < _LEAST_SEPARATION:
        raise PhotoError(
            f"No board found beside the rule in {name}",
            "lay the board along the rule, not further off than half a metre, on a floor of"
            " another colour",
        )
    _refuse_cut_off(best, ground, name)
    second = bars.best(beside=best)
    if (
        second is not None
        and second.separation > _SECOND_SEPARATION * best.separation
        and second.strangeness > _SECOND_STRANGE
        and second.length_mm > _SECOND_LENGTH * best.length_mm
        and second.length_mm > _SECOND_SLENDER * second.width_mm
    ):
        where = "above" if second.outline.centroid.y < best.outline.centroid.y else "below"
        raise PhotoError(
            f"Two boards lie in {name}, the second one {where} the first",
            "take away all boards but one and take the photo again",
        )
    return best


@dataclass(frozen=True, slots=True)
class _Bar:
    """A rectangle in the turned label map: rows y0..y1, columns x0..x1, with its separation."""

    x0: int
    y0: int
    x1: int
    y1: int
    worth: float
    separation: float


class _Bars:
    """The ground as a map of some kinds of look, and the bars in it that differ from their rims."""

    def __init__(self, ground: FacePicture, rule_area: Polygon) -> None:
        self.ground = ground
        ratio = _WORK_MM_PER_PX / ground.mm_per_px
        size = (
            max(1, round(ground.pixels.shape[1] / ratio)),
            max(1, round(ground.pixels.shape[0] / ratio)),
        )
        looks = looks_of(ground.pixels, ground.mm_per_px)
        looks = np.asarray(cv2.resize(looks, size, interpolation=cv2.INTER_AREA), np.float32)
        seen = cv2.resize(ground.seen.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        self.scale = ground.pixels.shape[1] * ground.mm_per_px / size[0]
        self.rule = self._painted(rule_area, size)
        self.known = (seen > 0.99) & ~self._painted(rule_area.buffer(8.0), size)
        self.labels = _kinds_of(np.asarray(looks, dtype=np.float32), self.known)

    def _painted(self, shape: Polygon, size: tuple[int, int]) -> NDArray[np.bool_]:
        canvas = np.zeros((size[1], size[0]), dtype=np.uint8)
        if not shape.is_empty:
            ring = self._to_px(np.asarray(shape.exterior.coords))
            cv2.fillPoly(canvas, [np.round(ring).astype(np.int32)], 1)
        return canvas.astype(bool)

    def _to_px(self, points_mm: Doubles) -> Doubles:
        return np.asarray((points_mm - np.asarray(self.ground.origin_mm)) / self.scale)

    def best(self, beside: BoardPlace | None = None) -> BoardPlace | None:
        """Return the best bar, or the best that shares no wood with another place."""
        known = self.known
        if beside is not None:
            size = (known.shape[1], known.shape[0])
            known = known & ~self._painted(beside.outline.buffer(40.0), size)
        found: tuple[float, float, _Bar] | None = None
        for angle in _ANGLES_DEG:
            bar = self._best_at(angle, known)
            if bar is not None and (found is None or bar.worth > found[0]):
                found = (bar.worth, angle, bar)
        if found is None or found[2].worth <= 0:
            return None
        for step in (-1.0, 1.0, -0.5, 0.5):
            bar = self._best_at(found[1] + step, known)
            if bar is not None and bar.worth > found[0]:
                found = (bar.worth, found[1] + step, bar)
        return self._place(found[1], found[2], known)

    def _turn(self, angle_deg: float) -> Doubles:
        rows, columns = self.labels.shape
        middle = ((columns - 1) / 2, (rows - 1) / 2)
        return np.asarray(cv2.getRotationMatrix2D(middle, angle_deg, 1.0), dtype=np.float64)

    def _best_at(self, angle_deg: float, known: NDArray[np.bool_]) -> _Bar | None:
        turn = self._turn(angle_deg)
        rows, columns = self.labels.shape
        labels = cv2.warpAffine(
            self.labels, turn, (columns, rows), flags=cv2.INTER_NEAREST, borderValue=255
        )
        there = cv2.warpAffine(
            known.astype(np.uint8), turn, (columns, rows), flags=cv2.INTER_NEAREST, borderValue=0
        )
        counts = np.zeros((_KINDS + 1, rows + 1, columns + 1))
        for kind in range(_KINDS):
            counts[kind] = cv2.integral(((labels == kind) & (there > 0)).astype(np.uint8))
        # The last layer counts the rule, which no bar may hold.
        rule = cv2.warpAffine(
            self.rule.astype(np.uint8), turn, (columns, rows), flags=cv2.INTER_NEAREST
        )
        counts[_KINDS] = cv2.integral(rule)
        return _search(counts)

    def _place(self, angle_deg: float, bar: _Bar, known: NDArray[np.bool_]) -> BoardPlace:
        back = cv2.invertAffineTransform(self._turn(angle_deg))
        corners = np.array(
            [[bar.x0, bar.y0], [bar.x1, bar.y0], [bar.x1, bar.y1], [bar.x0, bar.y1]], dtype=float
        )
        px = (corners - 0.5) @ back[:, :2].T + back[:, 2]
        points = px * self.scale + np.asarray(self.ground.origin_mm)
        along = points[1] - points[0]
        outline = polygon_of(points)
        size = (known.shape[1], known.shape[0])
        own = self._painted(outline, size) & known
        rest = known & ~self._painted(outline.buffer(40.0), size)
        return BoardPlace(
            outline=outline,
            angle_rad=float(np.arctan2(along[1], along[0])),
            length_mm=(bar.x1 - bar.x0) * self.scale,
            width_mm=(bar.y1 - bar.y0) * self.scale,
            separation=bar.separation,
            strangeness=float(_unlike(self._shares(own), self._shares(rest))),
        )

    def _shares(self, where: NDArray[np.bool_]) -> Doubles:
        counted = np.bincount(self.labels[where], minlength=_KINDS)[:_KINDS].astype(np.float64)
        return np.asarray(counted / max(float(counted.sum()), 1.0))


def _kinds_of(looks: NDArray[np.float32], known: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return each pixel's kind of look (0 ... _KINDS - 1) by k-means."""
    scaled = looks / np.array([6.0, 3.0, 4.0, 1.5], dtype=np.float32)
    samples = scaled[known]
    samples = np.ascontiguousarray(samples[:: max(1, len(samples) // 8000)])
    if len(samples) < _KINDS:
        return np.zeros(known.shape, dtype=np.uint8)
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.1)
    _, _, centres = cv2.kmeans(samples, _KINDS, None, stop, 2, cv2.KMEANS_PP_CENTERS)  # type: ignore[call-overload]
    best = np.full(known.shape, np.inf, dtype=np.float32)
    labels = np.zeros(known.shape, dtype=np.uint8)
    for kind, centre in enumerate(centres):
        off = ((scaled - centre) ** 2).sum(axis=-1)
        labels[off < best] = kind
        best = np.minimum(best, off)
    return labels


def _search(counts: Doubles) -> _Bar | None:
    """Return the bar that differs most from its rim: rows first, then ends, then both again."""
    _, rows, columns = counts.shape
    rows, columns = rows - 1, columns - 1
    px = 1.0 / _WORK_MM_PER_PX
    best: _Bar | None = None
    x0, x1 = round(0.2 * columns), round(0.8 * columns)
    step = 2
    y0s, heights = np.meshgrid(
        np.arange(0, rows - round(_NARROWEST_MM * px), step),
        np.arange(round(_NARROWEST_MM * px), round(_WIDEST_MM * px), step),
    )
    y0, y1 = y0s.ravel(), (y0s + heights).ravel()
    keep = y1 <= rows
    worth, _ = _worth(counts, x0, x1, y0[keep], y1[keep])
    order = np.argsort(-worth)[:6]
    for index in order:
        a, b = int(y0[keep][index]), int(y1[keep][index])
        c, d = x0, x1
        for _ in range(3):
            c, d = _prolonged(counts, *_best_ends(counts, a, b), a, b)
            a, b = _best_rows(counts, c, d, a, b)
        value, separation = _worth(counts, c, d, np.array([a]), np.array([b]))
        bar = _Bar(c, a, d, b, float(value[0]), float(separation[0]))
        if (d - c) * _WORK_MM_PER_PX < _SHORTEST_MM or (d - c) < 1.5 * (b - a):
            continue
        if best is None or bar.worth > best.worth:
            best = bar
    return best


def _best_ends(counts: Doubles, y0: int, y1: int) -> tuple[int, int]:
    columns = counts.shape[2] - 1
    step = max(1, columns // 60)
    starts, ends = np.meshgrid(np.arange(0, columns, step), np.arange(step, columns + 1, step))
    keep = ends - starts >= _SHORTEST_MM / _WORK_MM_PER_PX
    c, d = starts[keep], ends[keep]
    worth, _ = _worth(counts, c, d, np.full(c.shape, y0), np.full(c.shape, y1))
    at = int(worth.argmax())
    first, last = int(c[at]), int(d[at])
    near = np.arange(-step, step + 1)
    starts, ends = np.meshgrid(np.clip(first + near, 0, columns), np.clip(last + near, 0, columns))
    c, d = starts.ravel(), ends.ravel()
    worth, _ = _worth(counts, c, d, np.full(c.shape, y0), np.full(c.shape, y1))
    at = int(worth.argmax())
    return int(c[at]), int(d[at])


def _prolonged(counts: Doubles, x0: int, x1: int, y0: int, y1: int) -> tuple[int, int]:
    """Return the ends moved out while what follows is unlike the floor above and below it.

    Heartwood, paint or shade at one end look unlike the rest of the board; a board they still are.
    """
    columns = counts.shape[2] - 1
    block = round(_BLOCK_MM / _WORK_MM_PER_PX)
    step = max(1, block // 3)
    while x0 - block >= 0 and _stands_out(counts, x0 - block, x0, y0, y1):
        x0 -= step
    while x1 + block <= columns and _stands_out(counts, x1, x1 + block, y0, y1):
        x1 += step
    return x0, x1


def _stands_out(counts: Doubles, x0: int, x1: int, y0: int, y1: int) -> bool:
    rows = counts.shape[1] - 1
    ring, gap = (round(mm / _WORK_MM_PER_PX) for mm in (_RING_MM, 15.0))

    def total(top: int, bottom: int) -> Doubles:
        top, bottom = min(max(top, 0), rows), max(min(bottom, rows), 0)
        part = counts[:_KINDS, [[top], [bottom]], [[x0, x1]]]
        return np.asarray(part[:, 1, 1] - part[:, 0, 1] - part[:, 1, 0] + part[:, 0, 0])

    inset = max(1, (y1 - y0) // 8)
    inside = total(y0 + inset, y1 - inset)
    beside = total(y0 - gap - ring, y0 - gap) + total(y1 + gap, y1 + gap + ring)
    area = (x1 - x0) * (y1 - y0 - 2 * inset)
    if inside.sum() < 0.8 * area or beside.sum() < 0.5 * (x1 - x0) * 2 * ring:
        return False
    unlike = _unlike(inside / inside.sum(), beside / beside.sum())
    return bool(unlike > _STANDS_OUT)


def _best_rows(counts: Doubles, x0: int, x1: int, y0: int, y1: int) -> tuple[int, int]:
    rows = counts.shape[1] - 1
    near = np.arange(-12, 13)
    tops, bottoms = np.meshgrid(np.clip(y0 + near, 0, rows), np.clip(y1 + near, 0, rows))
    a, b = tops.ravel(), bottoms.ravel()
    keep = (b - a) * _WORK_MM_PER_PX >= _NARROWEST_MM
    if not keep.any():
        return y0, y1
    worth, _ = _worth(counts, x0, x1, a[keep], b[keep])
    at = int(worth.argmax())
    return int(a[keep][at]), int(b[keep][at])


def _worth(
    counts: Doubles,
    x0: NDArray[np.intp] | int,
    x1: NDArray[np.intp] | int,
    y0: NDArray[np.intp],
    y1: NDArray[np.intp],
) -> tuple[Doubles, Doubles]:
    """Return worth and separation of bars: unlike their rim, unlike all the rest, and large.

    Separation is how unlike (see `_unlike`) the two histograms of looks are.
    """
    _, rows, columns = counts.shape
    rows, columns = rows - 1, columns - 1
    ring = round(_RING_MM / _WORK_MM_PER_PX)

    def total(a: Rows, b: Rows, c: Rows, d: Rows) -> Doubles:
        return np.asarray(
            counts[:, b, d] - counts[:, a, d] - counts[:, b, c] + counts[:, a, c],
            dtype=np.float64,
        )

    both = total(y0, y1, x0, x1)
    inside, rule = both[:_KINDS], both[_KINDS]
    outer = total(
        np.maximum(y0 - ring, 0),
        np.minimum(y1 + ring, rows),
        np.maximum(np.subtract(x0, ring), 0),
        np.minimum(np.add(x1, ring), columns),
    )[:_KINDS]
    rim = outer - inside
    inside_sum, rim_sum = inside.sum(axis=0), rim.sum(axis=0)
    p, q = inside / np.maximum(inside_sum, 1), rim / np.maximum(rim_sum, 1)
    separation = _unlike(p, q)
    # A patch of floor in front of other floor can differ from its rim as much as a board does; but
    # the rest of the floor holds more of its kind.
    rest = counts[:_KINDS, rows, columns].reshape(-1, *[1] * (outer.ndim - 1)) - outer
    strange = _unlike(p, rest / np.maximum(rest.sum(axis=0), 1))
    area = np.maximum(np.multiply(np.subtract(x1, x0), np.subtract(y1, y0)), 1)
    filled = inside_sum / area
    worth = separation * strange * (inside_sum / 1000.0) ** 0.25
    # A bar over the unseen or with next to no rim proves nothing.
    bad = (
        (rule > _MOST_RULE * area)
        | (filled < 0.7)
        | (rim_sum < 0.35 * 2 * ring * np.subtract(x1, x0))
    )
    return np.where(bad, 0.0, worth), np.where(bad, 0.0, separation)


def _unlike(p: Doubles, q: Doubles) -> Doubles:
    """Return the Jensen-Shannon divergence (base 2) of shares along the first axis, 0 to 1."""

    def entropy(shares: Doubles) -> Doubles:
        return np.asarray(-(shares * np.log2(np.maximum(shares, 1e-12))).sum(axis=0))

    return entropy(0.5 * (p + q)) - 0.5 * (entropy(p) + entropy(q))


def _refuse_cut_off(place: BoardPlace, ground: FacePicture, name: str) -> None:
    """Refuse a board one of whose ends runs into what no photo shows."""
    height, width = ground.seen.shape
    frame = box(
        ground.origin_mm[0],
        ground.origin_mm[1],
        ground.origin_mm[0] + (width - 1) * ground.mm_per_px,
        ground.origin_mm[1] + (height - 1) * ground.mm_per_px,
    )
    upright = affinity.rotate(place.outline, -place.angle_rad, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = upright.bounds
    for end, strip in (
        ("left", box(x0 - 15, y0 + 5, x0 - 5, y1 - 5)),
        ("right", box(x1 + 5, y0 + 5, x1 + 15, y1 - 5)),
    ):
        beyond = affinity.rotate(strip, place.angle_rad, origin=(0, 0), use_radians=True)
        if not frame.contains(beyond) or _seen_share(beyond, ground) < 0.6:
            raise PhotoError(
                f"The board's {end} end lies outside {name}",
                "step back until the whole board is in the picture and take it again",
            )


def _seen_share(shape: Polygon, ground: FacePicture) -> float:
    canvas = np.zeros(ground.seen.shape, dtype=np.uint8)
    ring = (np.asarray(shape.exterior.coords) - np.asarray(ground.origin_mm)) / ground.mm_per_px
    cv2.fillPoly(canvas, [np.round(ring).astype(np.int32)], 1)
    painted = canvas.astype(bool)
    return float(ground.seen[painted].mean()) if painted.any() else 0.0
