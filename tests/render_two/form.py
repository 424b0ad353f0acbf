"""The board's form: crook, ends out of square, ragged edges, wane."""

from dataclasses import dataclass

import numpy as np

from tests.render_two.noise import wander

_STEP_MM = 4.0


@dataclass(frozen=True, eq=False)
class Wane:
    """Wood missing along an edge of one face; ``width`` at every station of the form, mm."""

    face: int
    low_edge: bool  # the edge at small y
    width: np.ndarray
    has_bark: bool
    depth: float


@dataclass(frozen=True, eq=False)
class Form:
    """A prism: y of both long edges at stations ``x``, ends that lean; and its wane."""

    x: np.ndarray
    top: np.ndarray
    bottom: np.ndarray
    lean: tuple[float, float]  # x gained a mm of y at either end
    wane: tuple[Wane, ...]

    def edges(self, face):
        """Return y of the edges of the flat face at the stations: wane left out."""
        top, bottom = self.top.copy(), self.bottom.copy()
        for one in self.wane:
            if one.face == face:
                if one.low_edge:
                    top = top + one.width
                else:
                    bottom = bottom - one.width
        return top, bottom

    def ring(self, top, bottom):
        """Return the ring between two lines of stations, the ends leaned."""
        middle = (self.top[0] + self.bottom[0]) / 2
        share = (self.x - self.x[0]) / (self.x[-1] - self.x[0])
        lean = self.lean[0] * (1 - share) + self.lean[1] * share
        upper = np.column_stack([self.x + lean * (top - middle), top])
        lower = np.column_stack([self.x + lean * (bottom - middle), bottom])
        return np.concatenate([upper, lower[::-1]])

    def outline(self, face):
        return self.ring(*self.edges(face))

    def silhouette(self):
        return self.ring(self.top, self.bottom)

    def wane_rings(self, face):
        """Return the outer strips of a face where wood is missing, one a stretch."""
        rings = []
        for one in self.wane:
            if one.face != face:
                continue
            gone = np.concatenate([[False], one.width > 0.8, [False]])
            starts, stops = (
                np.flatnonzero(gone[1:] & ~gone[:-1]),
                np.flatnonzero(gone[:-1] & ~gone[1:]),
            )
            for start, stop in zip(starts, stops, strict=True):
                part = slice(max(start - 1, 0), min(stop + 1, len(self.x)))
                if part.stop - part.start < 4:
                    continue
                cut = Form(self.x[part], self.top[part], self.bottom[part], (0.0, 0.0), ())
                if one.low_edge:
                    rings.append(cut.ring(cut.top, cut.top + one.width[part]))
                else:
                    rings.append(cut.ring(cut.bottom - one.width[part], cut.bottom))
        return rings


def draw_form(rng, length, width, thickness, bark_face, bark_low) -> Form:
    """Draw a form; wane may come where the stem's outside is near (``bark_face``, ``bark_low``)."""
    count = int(length / _STEP_MM) + 1
    x = np.linspace(0, length, count)
    u = x / length
    crook = rng.normal(0, 2.5) * 4 * u * (1 - u) + rng.normal(0, 0.6) * np.sin(2 * np.pi * u)
    taper = rng.normal(0, 3.0) * (u - 0.5)
    ragged = [wander(rng, count, 6) * 0.25 + wander(rng, count, 60) * 0.5 for _ in range(2)]
    top, bottom = crook + ragged[0], width + crook + taper + ragged[1]
    lean = (rng.normal(0, 0.008), rng.normal(0, 0.008))
    wane = []
    if rng.random() < 0.4:
        whole = rng.random() < 0.3
        begin = 0.0 if whole or rng.random() < 0.5 else rng.uniform(0, 0.7)
        stop = 1.0 if whole else begin + rng.uniform(0.15, 0.5)
        rise = np.clip(np.minimum((u - begin) / 0.08 + (begin == 0), (stop - u) / 0.1), 0, 1)
        breadth = rng.uniform(8, 26)
        w = (breadth + wander(rng, count, 45) * breadth * 0.35 + wander(rng, count, 9) * 0.8) * rise
        depth = float(min(thickness * 0.9, breadth * rng.uniform(0.6, 1.4)))
        wane.append(Wane(bark_face, bark_low, np.clip(w, 0, 34), bool(rng.random() < 0.6), depth))
    return Form(x, top, bottom, lean, tuple(wane))
