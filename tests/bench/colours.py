"""Does a board keep its colour whatever the light: sun, shade, overcast sky, lamps.

Each board is photographed once under each light, from another place each time, beside the coded
strip, and scanned; what is held against each other is the colour of its clear wood.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import cv2
import numpy as np

from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.vision.photos.photo import read_photo
from scanner.vision.scan import scan_face
from scanner.vision.setup import Setup
from tests.bench.figures import Bench, Figure, keep, mean_text
from tests.bench.many import workers
from tests.render.cache import cached_photo
from tests.render.draw_boards import draw_board
from tests.render.draw_photos import draw_photo, draw_rule
from tests.render.specs import BoardSpec, PhotoSpec

OUT = Path("out/bench/colours")
# kind, strength of the direct part, how warm what the white balance left is.
LIGHTS: dict[str, tuple[str, float | None, float]] = {
    "sun": ("sun", None, 0.2),
    "shade": ("shade", None, -0.8),
    "overcast": ("shade", 0.15, -0.2),
    "lamp": ("indoor", None, 1.2),
}
_MOST = 3.0
Size = Literal["full", "large", "middling", "medium", "small"]


@dataclass(frozen=True)
class Seen:
    """One photograph: board, light, and the colour found or why there is none."""

    seed: int
    species: str
    light: str
    lab: tuple[float, float, float] | None
    spread: float | None
    refusal: str = ""


def recipe(
    seed: int, light: str, size: Size = "large"
) -> tuple[BoardSpec, PhotoSpec, float | None, float | None]:
    """Return a board, its photograph under a light, batten and taped strip."""
    board = draw_board(seed)
    ruler = draw_rule(seed, board, "strip")
    kind, strength, warmth = LIGHTS[light]
    number = seed * 10 + list(LIGHTS).index(light)
    floor = "concrete" if kind == "indoor" else None
    photo = draw_photo(
        number, board, strip=ruler, light=kind, size=size, floor=floor, end_over_end=False
    )
    lamp = replace(photo.light, warmth=warmth)
    if strength is not None:
        lamp = replace(lamp, strength=strength)
    return board, replace(photo, light=lamp), ruler.batten_mm, ruler.taped_mm


def seen(job: tuple[int, str, Size]) -> Seen:
    seed, light, size = job
    cv2.setNumThreads(1)
    board, photo, batten, taped = recipe(seed, light, size)
    path, _ = cached_photo(board, photo)
    setup = Setup(
        thickness=Measured(round(board.thickness_mm), 1.0),
        batten_mm=batten,
        strip_taped=Measured(taped, 2.0) if taped else None,
    )
    try:
        found = scan_face((read_photo(path),), setup)
    except ScannerError as problem:
        return Seen(seed, board.species, light, None, None, str(problem))
    colour = found.colour
    if colour is None:
        return Seen(seed, board.species, light, None, None, "no colour")
    return Seen(seed, board.species, light, colour.lab, colour.spread)


def report(rows: list[Seen]) -> list[Figure]:
    """Return how far two photographs of one board lie apart, over all pairs of lights."""
    apart: dict[tuple[str, str], list[float]] = {}
    steps: list[tuple[float, ...]] = []
    for seed in sorted({row.seed for row in rows}):
        own = {row.light: row.lab for row in rows if row.seed == seed and row.lab is not None}
        for one, other in itertools.combinations(LIGHTS, 2):
            if one in own and other in own:
                # Delta E of 1976 (ISO/CIE 11664-4).
                apart.setdefault((one, other), []).append(math.dist(own[one], own[other]))
        middle = np.mean(list(own.values()), axis=0) if own else np.zeros(3)
        steps += [tuple(np.subtract(lab, middle)) for lab in own.values()]
    every = [v for values in apart.values() for v in values]
    p95 = float(np.quantile(every, 0.95))
    out = [
        Figure("delta E of one board between two lights, p95", f"{p95:.1f}", "3", p95 <= _MOST),
        Figure("the same, mean", mean_text(every, 1)),
        Figure("pairs of photographs", str(len(every))),
    ]
    for (one, other), values in apart.items():
        out.append(Figure(f"{one} against {other}, mean and most", _two(values)))
    boards = sum(
        any(r.lab is not None for r in rows if r.seed == s) for s in {r.seed for r in rows}
    )
    # Each board's own middle was taken off.
    sd = np.sqrt((np.array(steps) ** 2).sum(axis=0) / (len(steps) - boards))
    out.append(Figure("one sd in L*, a*, b*", ", ".join(f"{v:.2f}" for v in sd)))
    out.append(Figure("photographs without a colour", str(sum(row.lab is None for row in rows))))
    return out


def _two(values: list[float]) -> str:
    return f"{np.mean(values):.1f}, {max(values):.1f}"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="3100-3107")
    asked.add_argument("--size", default="large", help="of the photographs, as draw_photo names it")
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--keep", action="store_true", help="put the figures among those kept")
    options = asked.parse_args()
    first, last = (int(v) for v in options.seeds.split("-"))
    jobs = [(seed, light, options.size) for seed in range(first, last + 1) for light in LIGHTS]
    if options.jobs == 1:
        rows = []
        for job in jobs:
            rows.append(seen(job))
            print(rows[-1], flush=True)
    else:
        with workers(options.jobs) as pool:
            rows = list(pool.map(seen, jobs))
    OUT.mkdir(parents=True, exist_ok=True)
    (OUT / f"rows-{options.seeds}.json").write_text(json.dumps([vars(r) for r in rows], indent=1))
    for row in rows:
        lab = "" if row.lab is None else " ".join(f"{v:.1f}" for v in row.lab)
        print(row.seed, row.species, row.light, lab, row.refusal)
    figures = report(rows)
    for figure in figures:
        print(f"{figure.claim}: {figure.figure}")
    if options.keep:
        keep(
            Bench(
                "colours",
                "Colour of clear wood under four lights",
                f"rendered boards {options.seeds}, one face, four photographs each",
                f"python -m tests.bench.colours --seeds {options.seeds} --keep",
                tuple(figures),
            )
        )


if __name__ == "__main__":
    # By its full name, so that other processes know its rows.
    from tests.bench.colours import main as run

    run()
