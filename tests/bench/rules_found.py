"""How often a plain rule is found by itself, and whether a wrong one is ever taken for it.

``python -m tests.bench.rules_found --first 3100 --boards 40 --jobs 16``: of each board one photo
with a plain 36 in rule is rendered (cached) and looked at four times: a scan told the true length,
``try`` told the true length, a scan told another usual length, and a scan of the same photo with
the rule painted over by the floor beside it. *Found*: the true rule's ends lie as far apart as the
rule is long, within `_SCALE_SHARE`, and its middle line is the found one's. With another length
told a right scale is right too (the graduations count, and a doubt says that they are too few);
where the rule is painted over only a refusal is.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.vision.photos.photo import read_photo
from scanner.vision.rule.size import USUAL_WIDTH_MM
from scanner.vision.scale import fit_scale
from scanner.vision.setup import RuleSize, Setup
from scanner.vision.trial import try_out
from tests.bench.figures import share_interval
from tests.bench.many import workers
from tests.render.cache import cached_photo
from tests.render.scene import draw_board, draw_photo, draw_rule

if TYPE_CHECKING:
    from scanner.vision.photos.picture import Photo
    from tests.render.truth import PhotoTruth

WAYS = ("scan", "try", "another length told", "rule painted over")
# Other usual rules: 24 in, 1 m, 48 in.
OTHERS_MM = (609.6, 1000.0, 1219.2)
# A lone rule's scale is told to about 1.2 %; a step misread is 2.5 % of most rules and more.
_SCALE_SHARE = 0.012
# So many rule widths beside the rule the floor is taken from, away from the board.
_BESIDE = 2.5


def look(seed: int) -> list[str]:
    """Return the answer of each way for one board: found, wrong or refused, with the reason."""
    cv2.setNumThreads(1)
    board = draw_board(seed)
    rule = draw_rule(seed, board, "plain")
    path, truth = cached_photo(board, draw_photo(seed, board, rule="plain", face=1, strip=rule))
    photo = read_photo(path)
    told = RuleSize(rule.length_mm, rule.width_mm, rule.thickness_mm)
    setup = Setup(thickness=Measured(round(truth.board.thickness), 1.0), rule=told)
    other = replace(setup, rule=replace(told, length_mm=OTHERS_MM[seed % len(OTHERS_MM)]))
    out = []
    start = time.process_time()
    for way, photo_, setup_ in (
        ("scan", photo, setup),
        ("try", photo, setup),
        ("other", photo, other),
        ("bare", painted_over(photo, truth.photo), setup),
    ):
        out.append(_answer(way, photo_, setup_, truth.photo, rule.length_mm))
    print(f"{seed}: {'; '.join(out)} ({time.process_time() - start:.0f} s)", flush=True)
    return out


def _answer(way: str, photo: Photo, setup: Setup, truth: PhotoTruth, true_mm: float) -> str:
    """Return found or wrong (both with how far off the scale is), or refused."""
    told = setup.rule
    width = (told.width_mm if told else None) or USUAL_WIDTH_MM
    if way == "try":
        trial = try_out(photo, setup)
        if trial.rule is None:
            return f"refused ({trial.refusal[:40]})"
        corners, length = np.array(trial.rule.corners), trial.rule.length_mm
    else:
        try:
            fit = fit_scale((photo,), setup)
        except ScannerError as refusal:
            return f"refused ({str(refusal)[:40]})"
        length = fit.observations.references[0].size_mm[0]
        box = np.array([[0, 1], [length, 1], [length, -1], [0, -1]]) * [1, width / 2]
        corners = fit.reference_px(0, 0, box)
    # From the found rule's own frame: its corners, round from its zero end, are known in mm.
    frame = np.array([[0, width], [length, width], [length, 0], [0, 0]], dtype=np.float32)
    to_mm = cv2.getPerspectiveTransform(corners.astype(np.float32), frame)
    true = np.array(truth.rule_corners_px)
    ends = np.array([true[[0, 3]].mean(axis=0), true[[1, 2]].mean(axis=0)])
    seen = cv2.perspectiveTransform(ends[None], to_mm)[0]
    off = float(np.linalg.norm(seen[1] - seen[0])) / true_mm - 1
    beside = float(np.abs(seen[:, 1] - width / 2).max())
    right = abs(off) < _SCALE_SHARE and beside < width and way != "bare"
    return f"{'found' if right else 'wrong'} {100 * off:+.2f} % ({beside:.0f} mm beside)"


def painted_over(photo: Photo, truth: PhotoTruth) -> Photo:
    """Return a photo with the floor beside its rule in the rule's place."""
    corners = np.array(truth.rule_corners_px)
    middle = corners.mean(axis=0)
    # Corners 0 and 1 lie on one long edge, 2 and 3 on the other.
    across = (corners[3] - corners[0] + corners[2] - corners[1]) / 2
    # A little more than the rule: its shadow and its blur go too.
    grown = middle + (corners - middle) * 1.02
    grown += np.array([-1, -1, 1, 1])[:, None] * across * 0.35
    # From the side away from the board's middle.
    board = np.array(truth.outline_px).mean(axis=0)
    away = -across if (board - middle) @ across > 0 else across
    move = np.rint(_BESIDE * away).astype(int)
    height, width = photo.pixels.shape[0], photo.pixels.shape[1]
    mask = np.zeros((height, width), np.uint8)
    cv2.fillConvexPoly(mask, grown.astype(np.int32), 1)
    rows, columns = np.nonzero(mask)
    pixels = photo.pixels.copy()
    pixels[rows, columns] = photo.pixels[
        (rows + move[1]).clip(0, height - 1), (columns + move[0]).clip(0, width - 1)
    ]
    return replace(photo, pixels=pixels)


def report(answers: list[list[str]]) -> list[str]:
    """Return the table's lines."""
    lines = []
    for column, way in enumerate(WAYS):
        said = [row[column].split()[0] for row in answers]
        good = ("found", "found", "found or refused", "refused")[column]
        right, wrong = sum(one in good for one in said), said.count("wrong")
        low, high = share_interval(right, len(said))
        lines.append(
            f"{way:22} {good} {right} of {len(said)} ({right / len(said):.0%}, 95 %: {low:.0%} to"
            f" {high:.0%}), wrong {wrong}"
        )
    return lines


def main() -> None:
    """Run the bench and print the table."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--first", type=int, default=3100)
    arguments.add_argument("--boards", type=int, default=40)
    arguments.add_argument("--jobs", type=int, default=2)
    chosen = arguments.parse_args()
    with workers(chosen.jobs) as pool:
        answers = list(pool.map(look, range(chosen.first, chosen.first + chosen.boards)))
    print("\n".join(report(answers)))


if __name__ == "__main__":
    main()
