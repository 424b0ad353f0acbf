"""A stem that grows year by year: fronts about a wandering pith, widths from a climate series."""

from dataclasses import dataclass, field

import cv2
import numpy as np

from tests.render_two.noise import cloud, read, wander

_TURNS = 256
_STEP_MM = 0.25
_REACH_MM = 420.0
_ALONG_MM = 8.0


@dataclass(frozen=True, eq=False)
class Stem:
    """Year of every place of a stem that lies along x.

    ``years`` (turns, radii) holds the year that a place's radius and bearing belong to; ``sway``
    (places along, turns) moves the fronts in or out along the stem, mm; ``pith`` (places along, 2)
    is the pith's y and z.
    """

    years: np.ndarray
    sway: np.ndarray
    pith: np.ndarray
    taper: float
    tints: np.ndarray = field(repr=False)

    def pith_at(self, x):
        """Return y and z of the pith beside every x."""
        at = np.clip(np.asarray(x) / _ALONG_MM, 0, len(self.pith) - 1)
        whole = np.arange(len(self.pith))
        return np.interp(at, whole, self.pith[:, 0]), np.interp(at, whole, self.pith[:, 1])

    def polar(self, x, y, z):
        """Return radius and bearing (0-2 pi) of flat arrays about the pith."""
        py, pz = self.pith_at(x)
        r, turn = cv2.cartToPolar((y - py).astype(np.float32), (z - pz).astype(np.float32))
        return r.ravel(), turn.ravel()

    def year(self, x, y, z, lift=0.0):
        """Return the year (fractional) of flat arrays of places; ``lift`` mm nearer the pith."""
        r, turn = self.polar(x, y, z)
        turn = turn * (_TURNS / (2 * np.pi))
        r = r * (1 + self.taper * x) + read(self.sway, turn, x / _ALONG_MM) - lift
        return read(self.years, np.clip(r, 0, None) / _STEP_MM, turn)


def grow(rng, length_mm, pith, ring_mm) -> Stem:
    """Let a stem grow until it is wider than any board needs; ``pith``: y, z at the middle."""
    widths = _widths(rng, ring_mm)
    fronts = _fronts(rng, widths)
    radii = np.arange(0, _REACH_MM, _STEP_MM)
    count = np.arange(len(fronts))
    years = [np.interp(radii, fronts[:, turn], count) for turn in range(_TURNS)]
    years.append(years[0])
    places = int(length_mm / _ALONG_MM) + 3
    sway = cloud(rng, (places, _TURNS), (22, 40)) * rng.uniform(0.8, 2.2)
    sway += cloud(rng, (places, _TURNS), (7, 18)) * rng.uniform(0.1, 0.4)
    blend = np.linspace(0, 1, 40)[None]
    sway[:, -40:] = sway[:, -40:] * (1 - blend) + sway[:, :1] * blend
    sway = np.concatenate([sway, sway[:, :1]], axis=1)
    along = np.linspace(-0.5, 0.5, places) * length_mm
    path = np.stack(
        [
            pith[k]
            + along * rng.normal(0, 0.006)
            + wander(rng, places, rng.uniform(60, 120)) * rng.uniform(1, 5)
            for k in (0, 1)
        ],
        axis=1,
    )
    return Stem(
        np.array(years, np.float32),
        np.ascontiguousarray(sway, np.float32),
        path,
        rng.uniform(-1, 1) * 9e-5,
        rng.normal(0, 1, len(fronts) + 2).astype(np.float32),
    )


def _widths(rng, ring_mm):
    """Return ring widths: an autoregressive climate, youth, and now and then years of want."""
    low, high = ring_mm
    mean = np.exp(rng.uniform(np.log(low), np.log(high)))
    climate, widths, total = 0.0, [], 0.0
    want = 0
    while total < _REACH_MM * 1.25:
        climate = 0.62 * climate + rng.normal(0, 0.26)
        if want == 0 and rng.random() < 0.03:
            want = int(rng.integers(3, 9))
        want = max(0, want - 1)
        youth = 1 + 0.6 * np.exp(-len(widths) / 14)
        width = mean * youth * np.exp(climate) * (0.5 if want else 1.0)
        widths.append(float(np.clip(width, 0.5, 9.0)))
        total += widths[-1]
    return widths


def _fronts(rng, widths):
    """Return the radius of every year's front (years, turns): eccentric, fluted, growing outwards.

    A front moves along its own normal, so dents close as they do on a stem; more wood is laid on
    one side, and flutes (lobes) deepen slowly with age.
    """
    turn = np.arange(_TURNS) * 2 * np.pi / _TURNS
    lean = 1 + rng.uniform(0.02, 0.3) * np.cos(turn - rng.uniform(0, 2 * np.pi))
    flutes = sum(
        rng.normal(0, 0.05) * np.cos(lobes * turn + rng.uniform(0, 2 * np.pi))
        for lobes in (2, 3, 5, 7)
    )
    front = np.full(_TURNS, 0.8)
    fronts = [np.zeros(_TURNS), front]
    kernel = np.array([0.25, 0.5, 0.25])
    for age, width in enumerate(widths):
        steep = (np.roll(front, -1) - np.roll(front, 1)) / (4 * np.pi / _TURNS) / front
        # Corners of a front would run away from it: bark holds them back.
        steep = np.clip(steep, -0.5, 0.5)
        ripple = np.convolve(np.tile(rng.normal(0, 0.05, _TURNS), 3), np.ones(9) / 9, "same")
        speed = lean * (1 + flutes * min(age / 30, 1.5)) + ripple[_TURNS : 2 * _TURNS]
        front = front + width * np.clip(speed, 0.25, None) * np.sqrt(1 + steep**2)
        smooth = np.convolve(np.tile(front, 3), kernel, "same")[_TURNS : 2 * _TURNS]
        front = 0.3 * front + 0.7 * smooth
        front = np.maximum(front, fronts[-1] + 0.25)
        fronts.append(front)
    return np.array(fronts)
