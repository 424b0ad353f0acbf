"""How far off the tips of end checks are told, on rendered faces that nothing was fitted on.

``python -m tests.bench.fit_reach --seeds 8000-8039 --jobs 16 --keep reach.pickle`` measures every
crack that starts at an end and is seen there, and keeps what its tip was told from.
``--more`` lays the cracks of two more draws on each board, to fit by.
"""

import argparse
import gzip
import pickle
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from scanner.vision.flaws.crack_reach import follow, line_maps, reach_of
from scanner.vision.flaws.learned import as_shown
from scanner.vision.flaws.learned_lines import scan_lines, wood_x_mm
from scanner.vision.flaws.learned_maps import PHOTO_WEIGHTS, share_maps
from scanner.vision.flaws.learned_regions import outline_mm
from scanner.vision.flaws.surface import prepare
from tests.bench.faces import FlatFace, _made, _opened, flat_face
from tests.bench.fit_checks import WAYS
from tests.bench.flaws import off_outline
from tests.bench.learn_faces import with_more_cracks
from tests.bench.many import workers
from tests.bench.seeing import CRACKS, covered, recipe

_AT_END_MM = 12.0
# Of the face along a line so much is kept to either side, and so far beyond the tip.
_STRIP_PX, _STRIP_BEYOND = 16, 160


def cracked_face(seed: int, side: int) -> FlatFace:
    """Return a face of the seed's board with the cracks of two more draws."""
    board, photo = recipe(seed, side)
    return _opened(*_made(f"{seed}-{side}", with_more_cracks(board, seed), photo, strewn=False))


def strip_along(line, surface, share, true_mm: float) -> np.ndarray:
    """Return (2, rows, steps) uint8: lightness and share of a check beside a line, laid straight.

    Steps of 1 mm from the end on, rows of half a millimetre, the line in the middle row.
    """
    light = np.asarray(surface.lab[..., 0], dtype=np.float32)
    if line.turned:
        light, share = light[:, ::-1], share[:, ::-1]
    steps = min(len(line.at_px), int(true_mm) + _STRIP_BEYOND)
    offs = np.arange(-_STRIP_PX, _STRIP_PX + 1)[:, None]
    rows = np.clip(line.rows[:steps].round().astype(int) + offs, 0, len(light) - 1)
    columns = line.at_px[:steps][None]
    shown = [light[rows, columns] * 2.5, share[rows, columns] * 255]
    return np.clip(np.stack(shown), 0, 255).astype(np.uint8)


def tips(job: tuple[int, int], weights: Path, way: str, *, more: bool = False) -> list[dict]:
    """Return of each end crack that is seen: its true and told reach, and what it was told from."""
    cv2.setNumThreads(1)
    face = cracked_face(*job) if more else flat_face(*job)
    surface = prepare(face.picture, off_outline(face))
    maps = share_maps(as_shown(surface), surface.wood, weights)
    share, dark = maps.of("check"), line_maps(surface)
    x_mm = wood_x_mm(surface.wood, surface.origin_mm)
    limits, gather = WAYS[way]
    regions = scan_lines(maps, limits, gather=gather)
    outlines = [outline_mm(region, surface.origin_mm) for region in regions]
    found = []
    for kind, truth, shape in face.flaws:
        whole = shape.intersection(face.outline)
        if kind not in CRACKS or truth.look != "end" or whole.is_empty:
            continue
        x0, _, x1, _ = whole.bounds
        side = "left" if x0 - x_mm[0] < x_mm[-1] - x1 else "right"
        best = None
        for region, outline in zip(regions, outlines, strict=True):
            a, _, b, _ = outline.bounds
            at_end = a - x_mm[0] < _AT_END_MM if side == "left" else x_mm[-1] - b < _AT_END_MM
            if outline.is_empty or not at_end or covered(outline, [whole]) < 0.4:
                continue
            line = follow(region, surface, dark, share, side)
            told = reach_of(region, surface, dark, share, side)
            if best is None or told.tip_mm > best["told"].tip_mm:
                best = {
                    "name": face.name,
                    "true": x1 - x0,
                    "spec_reach": truth.reach,
                    "told": told,
                    "seen": 0.5 * float(line.seen_px - line.at_px[0]),
                    "dark": line.dark_mm.astype(np.float32),
                    "share": line.share,
                    "strip": strip_along(line, surface, share, x1 - x0),
                }
        if best is not None:
            found.append(best)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8000-8039", help="first-last")
    parser.add_argument("--weights", type=Path, default=PHOTO_WEIGHTS)
    parser.add_argument("--way", default="as it stands", choices=list(WAYS))
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--more", action="store_true", help="the cracks of two more draws too")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    work = partial(tips, weights=chosen.weights, way=chosen.way, more=chosen.more)
    with workers(chosen.jobs) as pool:
        found = [tip for part in pool.map(work, jobs) for tip in part]
    if chosen.keep:
        chosen.keep.write_bytes(gzip.compress(pickle.dumps(found)))
    true = np.array([tip["true"] for tip in found])
    for name, told in (
        ("plainly seen to", np.array([tip["seen"] for tip in found])),
        ("told", np.array([tip["told"].tip_mm for tip in found])),
    ):
        off = told - true
        low, middle, high = np.percentile(np.abs(off), [50, 80, 90])
        print(
            f"{name}: {len(off)} cracks, off {low:.0f} (median), {middle:.0f} (80 %),"
            f" {high:.0f} mm (90 %), {np.mean(np.abs(off) <= 10):.2f} within 10 mm,"
            f" mean {off.mean():.1f}"
        )
    inside = [tip["told"].low_mm <= tip["true"] <= tip["told"].high_mm for tip in found]
    print(f"in their interval: {np.mean(inside):.2f}")


if __name__ == "__main__":
    main()
