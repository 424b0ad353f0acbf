"""How near tapped rule corners come to the true ones: drawn rules, taps up to 15 px off.

``python -m tests.bench.taps --seeds 8100-8159``: rules with and without graduations, bright and
dark, on drawn floors, 0.6 to 1.2 mm a pixel, tilts to 45 degrees. Printed are the distances of the
refined corners from the true ones, how many were refused, and how many lengths lie outside U.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import cv2
import numpy as np

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.fit.camera import Camera
from scanner.vision.scale import fit_scale
from scanner.vision.setup import RuleSize, Setup
from tests.vision.drawn import PX_PER_MM, camera, photo_of, rule_sheet, shoot

MOST_OFF_PX = 15.0
_RULES = ((609.6, 25.4), (914.4, 25.4), (1000.0, 10.0), (500.0, 10.0))


@dataclass(frozen=True)
class Tapped:
    """A drawn photo, its rule and camera, and where a finger tapped."""

    pixels: np.ndarray
    size: RuleSize
    camera: Camera
    true_px: np.ndarray
    taps: tuple[tuple[float, float], ...]
    is_bare: bool


def draw(seed: int) -> Tapped:
    """Return a rule with four rough taps."""
    random = np.random.default_rng(seed)
    length, step = _RULES[int(random.integers(len(_RULES)))]
    width = float(random.uniform(25, 38))
    distance = float(random.uniform(0.6, 1.2)) * 1250.0
    # The whole rule stays in the picture.
    length = min(length, distance * 1.05)
    length = max(one for one, _ in _RULES if one <= length + 1e-6) if length > 500 else 500.0
    step = next(step for one, step in _RULES if one == length)
    seen_by = camera(
        tilt_deg=float(random.uniform(0, 45)),
        distance=distance,
        aim=(length / 2 + random.normal(0, 20), random.uniform(-120, 120)),
        turn=float(random.uniform(-0.25, 0.25)),
    )
    sheet, corner = rule_sheet(length, width, step)
    is_bare = random.random() < 0.5
    if is_bare:
        sheet[:] = 205
    floor = float(random.uniform(60, 175))
    if random.random() < 0.3:
        sheet, floor = 255 - sheet, float(random.uniform(110, 200))
    pixels = shoot(seen_by, sheet, corner, seed, floor=floor, shade=bool(random.random() < 0.5))
    half = sheet.shape[0] / PX_PER_MM / 2
    places = np.array([[0, -half, 0], [0, half, 0], [length, half, 0], [length, -half, 0]])
    true = seen_by.project(places)
    angle, off = random.uniform(0, 2 * np.pi, 4), MOST_OFF_PX * np.sqrt(random.uniform(0, 1, 4))
    taps = true + np.column_stack([np.cos(angle), np.sin(angle)]) * off[:, None]
    told = RuleSize(length, width if random.random() < 0.5 else None)
    rough = tuple((float(x), float(y)) for x, y in taps)
    return Tapped(pixels, told, seen_by, true, rough, bool(is_bare))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8100-8159", help="first-last")
    parser.add_argument("--quiet", action="store_true")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    cv2.setNumThreads(1)
    off: dict[bool, list[float]] = {True: [], False: []}
    refused, outside, total = 0, 0, 0
    for seed in range(first, last + 1):
        one = draw(seed)
        total += 1
        setup = Setup(Measured(0.0, 0.2), rule=one.size, corners=one.taps)
        try:
            fit = fit_scale((photo_of(one.pixels),), setup)
        except PhotoError as error:
            refused += 1
            print(f"{seed}: bare {one.is_bare}, refused: {error}", flush=True)
            continue
        found = np.linalg.norm(np.array(fit.corners) - one.true_px, axis=1)
        off[one.is_bare] += list(found)
        places = np.array([[20.0, 60.0, 0.0], [one.size.length_mm - 20, 60.0, 0.0]])
        seen = fit.face_from_photo(0, one.camera.project(places))
        error = float(np.linalg.norm(seen[1] - seen[0])) - (one.size.length_mm - 40)
        u = fit.u_between(seen[0], seen[1])
        outside += abs(error) > u
        if not chosen.quiet:
            print(
                f"{seed}: bare {one.is_bare}, corners off {np.round(found, 1)} px, "
                f"length {error:+.2f} mm, U {u:.1f}",
                flush=True,
            )
    for is_bare, values in off.items():
        if values:
            low, high, worst = np.percentile(values, [50, 95, 100])
            what = "bare" if is_bare else "graduated"
            print(f"{what}: median {low:.2f}, 95 % {high:.2f}, worst {worst:.1f} px")
    print(f"refused {refused} of {total}; length outside U: {outside}")


if __name__ == "__main__":
    main()
