"""Flattened rendered faces as training pictures for the learned finder.

``python -m tests.bench.learn_faces FOLDER --seeds 3200-3299 [--jobs 16]`` writes JPEGs at 0.5 mm
per pixel, the board along x, and ``faces.jsonl`` in the form that ``scanner.vision.training.faces``
reads. Development seeds only: 3000-6999 to learn from, 1000-1130 to choose by.
"""

import argparse
import json
from concurrent.futures import as_completed
from dataclasses import replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from scanner.vision.blades import without_blades
from scanner.vision.training.faces import LINE_FILE, MM_PER_PX
from tests.bench.faces import _made, _opened
from tests.bench.many import workers
from tests.bench.seeing import recipe
from tests.render.draw_boards import _draw_cracks, draw_board
from tests.render.flat import render_face, render_face_truth

_LOOKED_AT = (
    "knot",
    "check",
    "split",
    "shake",
    "hole",
    "bark_pocket",
    "stain",
    "pitch",
    "pith",
    "wane",
)
_ALLOWED = (*range(900, 910), *range(1000, 1131), *range(3000, 7000))


def board_with_flaws(seed: int, length_mm: float, knots: int):
    """Return the seed's board with a drawn number of knots, up to ``knots``, closer together.

    A board of the usual kind has one knot a metre: too few to learn from in a short rendering. So
    a longer board's knots are moved together; some then touch, as on real wood.
    """
    wanted = int(np.random.default_rng((seed, 19)).integers(0, knots + 1))
    board = draw_board(seed, length_mm=length_mm)
    for times in (2, 4, 8):
        if len(board.knots) >= wanted:
            break
        longer = draw_board(seed, length_mm=length_mm * times)
        packed = tuple(replace(k, x=k.x / times) for k in longer.knots[:wanted])
        board = replace(board, knots=packed)
    return board


def render_one(seed: int, folder: Path, length_mm: float, knots: int) -> dict:
    """Render one face of a seed's board; face 1 of even seeds, face 2 of odd ones."""
    if seed not in _ALLOWED:
        raise ValueError(f"seed {seed} is held out: take 1000-1130 or 3000-6999")
    cv2.setNumThreads(1)
    face = 1 + seed % 2
    board = board_with_flaws(seed, length_mm, knots)
    truth = render_face_truth(board, face, MM_PER_PX)
    pixels, _ = render_face(board, face, MM_PER_PX, supersample=2)
    name = f"{seed}-{face}.jpg"
    cv2.imwrite(str(folder / name), pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 93])

    def ring(points) -> list[list[float]]:
        moved = truth.picture_from_board(np.asarray(points, dtype=float))
        return [[round(float(v), 1) for v in point] for point in moved]

    flaws = [
        {"kind": flaw.kind, "sound": flaw.sound, "polygon": ring(outline)}
        for flaw in truth.board.flaws
        if flaw.kind in _LOOKED_AT
        for outline in flaw.outlines.get(str(face), [])
        if len(outline) >= 3
    ]
    return {
        "image": name,
        "board": f"rendered-{seed}",
        "source": "rendered",
        "species": board.species,
        "outline": ring(truth.board.outline[str(face)]),
        "flaws": flaws,
    }


def with_more_cracks(board, seed: int):
    """Return the board with the cracks of two more draws: a usual board holds too few to learn."""
    rng = np.random.default_rng((seed, 29))
    more = [crack for _ in range(2) for crack in _draw_cracks(rng, board)]
    return replace(board, cracks=(*board.cracks, *more))


def photograph_one(job: tuple[int, int], folder: Path) -> dict:
    """Render a photograph of a seed's board and lay it flat by its true camera.

    Litter lies on it, and it is freed of blades of grass as a scan is: what is left is no flaw.
    """
    seed, face = job
    if seed not in _ALLOWED:
        raise ValueError(f"seed {seed} is held out: take 1000-1130 or 3000-6999")
    cv2.setNumThreads(1)
    board, photo = recipe(seed, face)
    board = with_more_cracks(board, seed)
    seen = _opened(*_made(f"{seed}-{face}", board, photo, strewn=True))
    name = f"photo-{seed}-{face}.jpg"
    pixels = without_blades(seen.picture).pixels[..., ::-1]
    cv2.imwrite(str(folder / name), pixels, [cv2.IMWRITE_JPEG_QUALITY, 90])

    def ring(shape) -> list[list[float]]:
        return [
            [round(float(v), 1) for v in p] for p in np.asarray(shape.exterior.coords) / MM_PER_PX
        ]

    return {
        "image": name,
        "board": f"rendered-{seed}",
        "source": "rendered",
        "widened": True,
        "species": seen.species,
        "outline": ring(seen.outline),
        "flaws": [
            {"kind": kind, "sound": flaw.sound, "polygon": ring(shape)}
            for kind, flaw, shape in seen.flaws
            if kind in _LOOKED_AT
        ],
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seeds", default="3200-3269", help="first-last")
    parser.add_argument("--photos", action="store_true", help="phone photographs laid flat")
    parser.add_argument("--length", type=float, default=900.0, help="mm of board a face")
    parser.add_argument("--knots", type=int, default=4, help="up to this many knots are asked for")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    chosen.folder.mkdir(parents=True, exist_ok=True)
    seeds = range(first, last + 1)
    if chosen.photos:
        work = partial(photograph_one, folder=chosen.folder)
        jobs: list = [(seed, face) for seed in seeds for face in (1, 2)]
    else:
        work = partial(
            render_one, folder=chosen.folder, length_mm=chosen.length, knots=chosen.knots
        )
        jobs = list(seeds)
    with (
        workers(chosen.jobs) as pool,
        (chosen.folder / LINE_FILE).open("a", encoding="utf-8") as lines,
    ):
        for waiting in as_completed([pool.submit(work, job) for job in jobs]):
            lines.write(json.dumps(waiting.result()) + "\n")
            lines.flush()


if __name__ == "__main__":
    main()
