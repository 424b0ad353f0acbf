"""How often a plain rule is found by itself, and whether a wrong one is ever taken for it.

``python -m tests.bench.rules_found --first 3100 --boards 40 --jobs 16``: of each board one photo
with a plain 36 in rule is rendered (cached) and looked at four times: a scan told the true length,
``try`` told the true length, a scan told another usual length, and a scan of the same photo with
the rule painted over by the floor beside it. *Found*: the four corners lie within
`_NEAR_MM` of the true ones. The last two must be refused.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.vision.photo import read_photo
from scanner.vision.scale import fit_scale
from scanner.vision.setup import RuleSize, Setup
from scanner.vision.trial import try_out
from tests.bench.figures import share_interval
from tests.render.cache import cached_photo
from tests.render.scene import draw_board, draw_photo, draw_rule

if TYPE_CHECKING:
    from scanner.vision.picture import Photo
    from tests.render.truth import PhotoTruth

WAYS = ("scan", "try", "another length told", "rule painted over")
# Other usual rules: 24 in, 1 m, 48 in.
OTHERS_MM = (609.6, 1000.0, 1219.2)
# Half of a sixteenth of an inch twice over: more is another line taken for the end's.
_NEAR_MM = 4.0
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
        out.append(_answer(way, photo_, setup_, truth.photo))
    print(f"{seed}: {'; '.join(out)} ({time.process_time() - start:.0f} s)", flush=True)
    return out


def _answer(way: str, photo: Photo, setup: Setup, truth: PhotoTruth) -> str:
    """Return found, wrong (both with how far off the worst corner is, mm) or refused."""
    if way == "try":
        trial = try_out(photo, setup)
        if trial.rule is None:
            return f"refused ({trial.refusal[:40]})"
        corners = np.array(trial.rule.corners)
    else:
        try:
            fit = fit_scale((photo,), setup)
        except ScannerError as refusal:
            return f"refused ({str(refusal)[:40]})"
        length, width = fit.observations.references[0].size_mm
        box = np.array([[0, 1], [length, 1], [length, -1], [0, -1]]) * [1, width / 2]
        corners = fit.reference_px(0, 0, box)
    true = np.array(truth.rule_corners_px)
    # From which end and which side a rule is counted is its own matter.
    turns = [np.roll(order, k, axis=0) for order in (true, true[::-1]) for k in range(4)]
    off = min(float(np.linalg.norm(corners - one, axis=1).max()) for one in turns)
    off_mm = off * float(truth.mm_per_px[1])
    return f"{'found' if off_mm < _NEAR_MM and way in ('scan', 'try') else 'wrong'} {off_mm:.1f}"


def painted_over(photo: Photo, truth: PhotoTruth) -> Photo:
    """Return a photo with the floor beside its rule in the rule's place."""
    corners = np.array(truth.rule_corners_px)
    across = corners[3] - corners[0]
    middle = corners.mean(axis=0)
    # The side away from the board's middle.
    board = np.array(truth.outline_px).mean(axis=0)
    if (board - middle) @ across > 0:
        across = -across
    move = np.rint(_BESIDE * across).astype(int)
    # A little more than the rule: its shadow and its blur go too.
    grown = middle + (corners - middle) * [1.02, 1.02]
    grown += np.sign((corners - middle) @ across)[:, None] * across * 0.35
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
        good = "found" if column < 2 else "refused"
        right, wrong = said.count(good), said.count("wrong")
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
    with ProcessPoolExecutor(chosen.jobs) as pool:
        answers = list(pool.map(look, range(chosen.first, chosen.first + chosen.boards)))
    print("\n".join(report(answers)))


if __name__ == "__main__":
    main()
