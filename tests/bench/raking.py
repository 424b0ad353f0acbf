"""A second photo under a low lamp: how near it is laid over the first, what it adds for checks.

``python -m tests.bench.raking --seeds 8000-8019 --jobs 16``. Both photographs are flattened by
their true cameras; the second is taken from elsewhere. What is printed of a board's checks comes
from rows that were fitted without it.
"""

import argparse
import pickle
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.errors import PhotoError
from scanner.vision.flaws import see_wood
from scanner.vision.flaws.learned import as_shown
from scanner.vision.flaws.learned_maps import PHOTO_WEIGHTS, share_maps
from scanner.vision.flaws.raked import joined_checks
from scanner.vision.flaws.surface import prepare
from scanner.vision.low_lamp.raking import MOST_APART_MM, LaidOver, lay_over
from scanner.vision.photos.picture import FacePicture
from tests.bench.faces import FlatFace, flat_face, outline_and_view, raked_face
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.fit_checks import WAYS, FaceLines, lines_in, report
from tests.bench.flaws import off_outline, wane_of
from tests.bench.many import workers
from tests.bench.seeing import COVERED, CRACKS, covered


@dataclass(frozen=True)
class RakedFace:
    """Of one face: how far off it was laid (mm), or why not, and its lines by what was used.

    ``across_mm`` is how far off across the grain, ``along_u_mm`` what the program says of it along;
    ``told`` holds, for one photo and for both, the cracks over 20 mm that the program as it stands
    finds, how many there are, and its false ones.
    """

    name: str
    off_mm: tuple[float, ...]
    refused: str
    lines: dict[str, FaceLines]
    across_mm: tuple[float, ...] = ()
    told: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    along_u_mm: float = 0.0


def in_flat(face: FlatFace, board_mm: np.ndarray) -> np.ndarray:
    """Return where a flat picture shows places of the board's face, mm of the picture."""
    truth = face.truth
    _, view = outline_and_view(truth)
    wanted = truth.photo.photo_from_face(board_mm)
    ground = truth.photo.reference_from_board(board_mm)[:, :2] * [1, -1]

    def shown(places: np.ndarray) -> np.ndarray:
        high = np.full(len(places), truth.photo.face_height)
        return truth.photo.project(np.column_stack([places[:, 0], -places[:, 1], high]))

    for _ in range(4):  # Newton's steps: the flat picture's own height, not the wood's
        here = shown(ground)
        jacobian = np.stack([shown(ground + step) - here for step in np.eye(2)], axis=2)
        ground = ground + np.linalg.solve(jacobian, (wanted - here)[..., None])[..., 0]
    return view.from_ground(ground)


def off_by(first: FlatFace, second: FlatFace, laid: LaidOver) -> np.ndarray:
    """Return (N, 2) how far off, along and across, the wood lies that is laid over places, mm."""
    ring = np.asarray(first.truth.board.outline[str(first.truth.photo.face)])
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    x, y = np.meshgrid(np.linspace(x0 + 15, x1 - 15, 25), np.linspace(y0 + 12, y1 - 12, 5))
    places = np.column_stack([x.ravel(), y.ravel()])
    here, there = in_flat(first, places), in_flat(second, places)
    return laid.places_in_second(here) - there


def look(job: tuple[int, int], weights: Path, way: str) -> RakedFace:
    """Return what a face's two photos give."""
    cv2.setNumThreads(1)
    first, second = flat_face(*job), raked_face(*job)
    try:
        laid = lay_over(
            first.picture, off_outline(first), second.picture, off_outline(second), "low lamp"
        )
    except PhotoError as error:
        return RakedFace(first.name, (), str(error), {})
    off = off_by(first, second, laid)
    outline = off_outline(first)
    surface, raked = prepare(first.picture, outline), prepare(laid.picture, outline)
    maps = share_maps(as_shown(surface), surface.wood, weights)
    other = share_maps(as_shown(raked), raked.wood, weights)
    both = joined_checks(maps, other)
    lines = {
        name: lines_in(first, surface, shown, way)
        for name, shown in (("first", maps), ("both", both))
    }
    long = lines["first"].cracks
    told = {
        "first": _told(first, outline, long, None),
        "both": _told(first, outline, long, laid.picture),
    }
    far, across = np.hypot(*off.T), np.abs(off[:, 1])
    return RakedFace(
        first.name, tuple(map(float, far)), "", lines, tuple(map(float, across)), told,
        laid.along_u_mm,
    )  # fmt: skip


def _told(face: FlatFace, outline: Polygon, cracks: list, raked: FacePicture | None):
    """Return cracks found, cracks there are, and false cracks of the program as it stands."""
    seen = see_wood(face.picture, outline, wane_of(face), raked=raked).flaws
    shapes = [f.outlines[1] for f in seen if f.kind.value in CRACKS]
    true = [shape for kind, _, shape in face.flaws if kind in CRACKS]
    found = sum(covered(crack, shapes) >= COVERED for crack in cracks)
    return found, len(cracks), sum(covered(shape, true) < COVERED for shape in shapes)


def figures_of(made: list[RakedFace]) -> tuple[Figure, ...]:
    """Return what is claimed of the second photo: how near it is laid, what it adds."""
    laid = [face for face in made if not face.refused]
    near = sum(float(np.percentile(face.off_mm, 95)) < 1.0 for face in laid)
    told_far = sum(face.along_u_mm > MOST_APART_MM for face in laid)
    within = sum(
        float(np.sqrt(np.percentile(np.square(face.off_mm) - np.square(face.across_mm), 95)))
        <= face.along_u_mm
        for face in laid
    )
    crosswise = sum(float(np.percentile(face.across_mm, 95)) < 1.0 for face in laid)
    out = [
        Figure("faces laid over", share_text(len(laid), len(made))),
        Figure("laid under 1 mm off at 95 % of places", share_text(near, len(laid)), "all",
               near == len(laid)),
        Figure("the same across the grain", share_text(crosswise, len(laid)), "all",
               crosswise == len(laid)),
        Figure("told with U over 1 mm along the grain", share_text(told_far, len(laid))),
        Figure("95 % of places within that U along the grain", share_text(within, len(laid))),
    ]  # fmt: skip
    for name, what in (("first", "one photo"), ("both", "with the low lamp")):
        hits, of, false = np.sum([face.told[name] for face in laid], axis=0)
        out.append(
            Figure(f"cracks over 20 mm found, {what}", f"{share_text(int(hits), int(of))},"
                   f" {false / len(laid):.2f} false cracks a face")
        )  # fmt: skip
    return tuple(out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8000-8019", help="first-last")
    parser.add_argument("--weights", type=Path, default=PHOTO_WEIGHTS)
    parser.add_argument("--way", default="as it stands", choices=list(WAYS))
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument(
        "--until", help="no further board is begun after this time of day, UTC: 16:03"
    )
    parser.add_argument("--keep", type=Path, help="write what was measured")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    look_at = partial(look, weights=chosen.weights, way=chosen.way)
    made: list[RakedFace] = []
    # Boards whole and in their order: what the clock cuts off does not hang on what was found.
    with workers(chosen.jobs) as pool:
        while jobs and not (chosen.until and f"{datetime.now(UTC):%H:%M}" >= chosen.until):
            several, jobs = jobs[: 2 * chosen.jobs], jobs[2 * chosen.jobs :]
            made += pool.map(look_at, several)
    last -= len({seed for seed, _ in jobs})
    seeds = f"{first}-{last}"
    if chosen.keep:
        chosen.keep.write_bytes(pickle.dumps(made))
    for face in made:
        told = face.refused
        if not told:
            usual, most = np.percentile(face.off_mm, 95), max(face.off_mm)
            across = np.percentile(face.across_mm, 95)
            told = f"laid {usual:.2f} mm off (95 %), {most:.2f} at most; across {across:.2f};"
            told += f" U along {face.along_u_mm:.2f};"
            told += f" cracks {face.told}"
        print(f"{face.name}: {told}")
    laid = [face for face in made if not face.refused]
    for figure in (figures := figures_of(made)):
        print(f"{figure.claim}: {figure.figure} {figure.bar}")
    keep(
        Bench(
            "raking",
            "A second photo under a low lamp",
            f"faces of rendered boards {seeds}, through their true cameras",
            f"python -m tests.bench.raking --seeds {seeds}",
            figures,
        )
    )
    for name in ("first", "both"):
        print(f"== {name}")
        report([face.lines[name] for face in laid])


if __name__ == "__main__":
    main()
