"""Fit how much surer a crack is where the other face shows it too, and how much less where not.

``python -m tests.bench.fit_pairs --seeds 5237-5407`` finds flaws on both faces of rendered boards,
lays the faces over each other and prints the two shifts of `scanner.board.crack_score`, fitted on
boards of even seed and held against those of odd seed, and the other way round.
"""

import argparse
from dataclasses import replace

import cv2
import numpy as np
from scipy.optimize import minimize_scalar
from shapely import affinity

from scanner.board.flaw import CRACKS, Flaw, FlawKind
from scanner.board.join import lay_over
from scanner.board.measured import Measured
from scanner.board.partners import partners
from scanner.board.reading import FaceReading, mid_line
from scanner.vision.flaws import find_flaws
from tests.bench.faces import FlatFace, flat_face
from tests.bench.flaws import off_outline, wane_of
from tests.bench.many import workers
from tests.bench.seeing import COVERED, covered, recipe

_MOST_SURE = 0.99
_STEPS = (0.0, 0.3, 0.5, 0.7, 0.9, 1.0)
_LEAST_WANE_MM2 = 50.0
# (seed, log odds of the score, on both faces, right)
Row = tuple[int, float, bool, bool]


def reading_of(face: FlatFace) -> tuple[FaceReading, dict[int, bool]]:
    """Return a face as `join` takes it, and by index in its flaws whether each crack is true."""
    (ax, ay), (bx, by) = mid_line(face.outline)
    turn = -np.degrees(np.arctan2(by - ay, bx - ax))
    x, y, end, _ = affinity.rotate(face.outline, turn, origin=(0, 0)).bounds

    def own(shape):
        return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), -x, -y)

    true = [shape for kind, _, shape in face.flaws if kind in CRACKS]
    found = find_flaws(face.picture, off_outline(face), wane_of(face))
    right = {
        index: covered(flaw.outlines[1], true) >= COVERED
        for index, flaw in enumerate(found)
        if flaw.kind in CRACKS
    }
    flaws = [replace(flaw, outlines={1: own(flaw.outlines[1])}) for flaw in found]
    flaws += [
        Flaw("", FlawKind.WANE, {1: own(shape)})
        for shape in wane_of(face)
        if shape.geom_type == "Polygon" and shape.area > _LEAST_WANE_MM2
    ]
    length = Measured(end - x, 2.0)
    return FaceReading(own(face.outline), tuple(flaws), length, (), 0.0, 1.0), right


def cracks_of(seed: int) -> list[Row]:
    """Return the joined cracks of a seed's board; of two the higher score."""
    cv2.setNumThreads(1)
    thickness_mm = recipe(seed, 1)[0].thickness_mm
    (first, right_1), (second, right_2) = (reading_of(flat_face(seed, face)) for face in (1, 2))
    seen = lay_over(first, second, thickness_mm).seen
    pairs = {i: j for i, j in partners(first.flaws, seen.flaws, thickness_mm) if i in right_1}
    rows = []
    for i, right in right_1.items():
        if i in pairs:
            score = max(first.flaws[i].score, seen.flaws[pairs[i]].score)
            rows.append((seed, _log_odds(score), True, right or right_2[pairs[i]]))
        else:
            rows.append((seed, _log_odds(first.flaws[i].score), False, right))
    alone = right_2.keys() - set(pairs.values())
    rows += [(seed, _log_odds(seen.flaws[j].score), False, right_2[j]) for j in alone]
    return rows


def _log_odds(score: float) -> float:
    held = np.clip(score, 1 - _MOST_SURE, _MOST_SURE)
    return float(np.log(held / (1 - held)))


def shift_of(rows: list[Row]) -> float:
    """Return what is best added to the log odds, held near nothing by a normal prior of 1."""
    odds, right = (np.array([row[k] for row in rows], float) for k in (1, 3))

    def loss(shift: float) -> float:
        said = odds + shift
        return float((np.logaddexp(0, said) - right * said).sum() + 0.5 * shift**2)

    return float(minimize_scalar(loss, bounds=(-4, 4), method="bounded").x)


def report(name: str, rows: list[Row], shift: float) -> None:
    """Print how far scores are from what is right, by steps, as they are and moved."""
    odds, right = (np.array([row[k] for row in rows], float) for k in (1, 3))
    for when, said in (("as scored", odds), (f"moved {shift:.2f}", odds + shift)):
        score = 1 / (1 + np.exp(-said))
        step = np.digitize(score, _STEPS[1:-1])
        off = sum(abs(score[step == k].sum() - right[step == k].sum()) for k in set(step))
        parts = [
            f"{part.sum()} said {score[part].mean():.2f} right {right[part].mean():.2f}"
            for part in (step == k for k in sorted(set(step)))
        ]
        print(
            f"  {name}, {when}: calibration error {off / len(rows):.3f},"
            f" Brier {np.mean((score - right) ** 2):.4f}; {'; '.join(parts)}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="5237-5407", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    with workers(chosen.jobs) as pool:
        rows = [row for part in pool.map(cracks_of, range(first, last + 1)) for row in part]
    for fitted in (0, 1):
        print(f"fitted on seeds {('even', 'odd')[fitted]}, held against the others")
        for name, both in (("on one face", False), ("on both", True)):
            of = [[r for r in rows if r[2] is both and r[0] % 2 == half] for half in (0, 1)]
            if all(of):
                report(name, of[1 - fitted], shift_of(of[fitted]))


if __name__ == "__main__":
    main()
