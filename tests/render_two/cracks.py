"""Checks, splits and shakes as traces on the faces: middle line and opening, mm."""

from dataclasses import dataclass

import numpy as np

from tests.render_two.noise import wander


@dataclass(frozen=True, eq=False)
class Trace:
    """A crack on one face: points of its middle line (n, 2) and its opening at each, mm."""

    face: int
    line: np.ndarray
    opening: np.ndarray
    dust: float

    def ring(self):
        half = np.maximum(self.opening, 0.12) / 2
        up, down = self.line.copy(), self.line.copy()
        up[:, 1] -= half
        down[:, 1] += half
        return np.concatenate([up, down[::-1]])


@dataclass(frozen=True, eq=False)
class Crack:
    """A crack with its trace on each face that it shows on."""

    kind: str
    look: str
    traces: tuple[Trace, ...]

    @property
    def opening(self):
        return max(float(t.opening.max()) for t in self.traces)

    @property
    def usual(self):
        """Return the median opening of the trace that gapes most."""
        return max(float(np.median(t.opening)) for t in self.traces)

    @property
    def reach(self):
        return max(float(np.ptp(t.line[:, 0])) for t in self.traces)


def _jagged(rng, line):
    """Return a line that keeps to the fibres but steps across some of them."""
    count = len(line)
    steps = np.cumsum(rng.normal(0, 0.35, count) * (rng.random(count) < 0.12))
    sway = wander(rng, count, 14) * 0.35
    return line + np.column_stack([np.zeros(count), steps + sway - (steps + sway)[0]])


def end_crack(rng, solid, form, end, y, faces, length, gape, kind) -> Crack:
    """Return a crack from an end; it opens most at the end and runs to nothing."""
    lean = rng.normal(0, 0.15)
    traces = []
    for face in faces:
        z = 0.0 if face == 1 else solid.thickness
        reach = length * rng.uniform(0.7, 1.0) if len(faces) > 1 else length
        at = y + lean * (z - solid.thickness / 2)
        x_end = _end_x(form, end, at)
        inward = 1 if end == "A" else -1
        line = _jagged(rng, solid.follow(x_end, x_end + inward * reach, at, z))
        share = np.linspace(0, 1, len(line))
        opening = gape * rng.uniform(0.7, 1.0) * (1 - share) ** rng.uniform(0.6, 1.2)
        opening = np.clip(opening * (1 + 0.25 * wander(rng, len(line), 8)), 0.02, None)
        # Where it opens less than a tenth of a millimetre nobody sees it: it ends there.
        shown = max(int(np.argmax(opening < 0.1)) if (opening < 0.1).any() else len(line), 3)
        line, opening = line[:shown], opening[:shown]
        if end == "B":
            line, opening = line[::-1], opening[::-1]
        traces.append(Trace(face, line, opening, rng.uniform(0, 0.5)))
    return Crack(kind, "end", tuple(traces))


def face_checks(rng, solid, form, face, x, y, count, gape) -> list[Crack]:
    """Return a family of surface checks about a place, staggered as drying opens them."""
    z = 0.0 if face == 1 else solid.thickness
    made = []
    for _ in range(count):
        length = rng.lognormal(np.log(50), 0.6)
        x0 = x + rng.normal(0, 90) - length / 2
        y0 = y + rng.normal(0, 9)
        low, high = form.edges(face)
        station = np.clip(np.searchsorted(form.x, x0), 0, len(form.x) - 1)
        if x0 < 12 or x0 + length > form.x[-1] - 12:
            continue
        if not low[station] + 4 < y0 < high[station] - 4:
            continue
        line = _jagged(rng, solid.follow(x0, x0 + length, y0, z, 1.5))
        share = np.linspace(0, 1, len(line))
        opening = gape * rng.uniform(0.4, 1.0) * np.sqrt(np.clip(4 * share * (1 - share), 0, 1))
        opening = opening * (1 + 0.3 * wander(rng, len(line), 6))
        trace = Trace(face, line, np.clip(opening, 0.02, None), rng.uniform(0.1, 0.7))
        made.append(Crack("check", "face", (trace,)))
    return made


def shake(rng, solid, form, face, x, y, length, gape) -> Crack | None:
    """Return a crack between two years where their front meets a face, None where none runs on."""
    z = 0.0 if face == 1 else solid.thickness
    xs = np.arange(x, min(x + length, form.x[-1] - 5), 2.0)
    if len(xs) < 12:
        return None
    offsets = np.arange(-30, 30.1, 0.5)
    gx, gy = np.meshgrid(xs, y + offsets)
    year = solid.wood(gx, gy, np.full(gx.shape, z)).year.reshape(gx.shape)
    front = np.round(year[len(offsets) // 2, 0])
    line, last = [], y
    for n, column in enumerate(year.T):
        crossings = np.flatnonzero(np.diff(np.sign(column - front)))
        if not crossings.size:
            break
        here = gy[crossings, n]
        near = here[np.argmin(np.abs(here - last))]
        if abs(near - last) > 4:
            break
        last = float(near)
        line.append((xs[n], last))
    if len(line) < 15:
        return None
    points = np.array(line)
    points[:, 1] = np.convolve(np.pad(points[:, 1], 3, "edge"), np.ones(7) / 7, "valid")
    share = np.linspace(0, 1, len(points))
    opening = gape * np.sqrt(np.clip(4 * share * (1 - share), 0, 1))
    trace = Trace(face, points, np.clip(opening, 0.02, None), rng.uniform(0, 0.4))
    return Crack("shake", "face", (trace,))


def cover(trace, shape, mm_per_px, origin, mask=None):
    """Return the share of each pixel that a crack takes, and the rows that were touched.

    The opening is laid on every column exactly, so that openings of a tenth of a pixel count.
    """
    line, opening = trace.line, trace.opening
    order = np.argsort(line[:, 0])
    columns = np.arange(shape[1]) * mm_per_px + origin[0]
    inside = (columns >= line[order[0], 0]) & (columns <= line[order[-1], 0])
    at = np.flatnonzero(inside)
    share = np.zeros(shape, np.float32) if mask is None else mask
    if not at.size:
        return share
    y = (np.interp(columns[at], line[order, 0], line[order, 1]) - origin[1]) / mm_per_px
    half = np.interp(columns[at], line[order, 0], opening[order]) / (2 * mm_per_px)
    band = np.arange(-int(half.max() + 2), int(half.max() + 3))
    rows = np.round(y).astype(int)[:, None] + band[None]
    part = np.clip(
        np.minimum(rows + 0.5, (y + half)[:, None]) - np.maximum(rows - 0.5, (y - half)[:, None]),
        0,
        1,
    )
    good = (rows >= 0) & (rows < shape[0])
    across = np.broadcast_to(at[:, None], rows.shape)
    np.maximum.at(share, (rows[good], across[good]), part[good].astype(np.float32))
    return share


def _end_x(form, end, y):
    middle = (form.top[0] + form.bottom[0]) / 2
    if end == "A":
        return float(form.x[0] + form.lean[0] * (y - middle))
    return float(form.x[-1] + form.lean[1] * (y - middle))
