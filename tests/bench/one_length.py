"""Both faces of made boards put through the real fit: the length that they tell together.

``python -m tests.bench.one_length``: each face is one photo beside the same strip, the board turned
over between them; errors and U of the first face alone, of the second, and of both.
"""

from __future__ import annotations

import argparse
from functools import partial

import numpy as np

from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.vision.evidence.told_length import ToldLength
from scanner.vision.fit.both_faces import length_of_both, told_length
from tests.bench.levels import KINDS, LEVELS
from tests.bench.many import workers
from tests.bench.projected import _off_the_picture, fitted
from tests.bench.scale import DEVELOPMENT, share_inside
from tests.bench.scenes import END_NOISE_PX, Scene, draw_lens, draw_scene


def _told(scene: Scene) -> tuple[Measured, ToldLength | None]:
    fit, pixels = fitted(scene)
    ends = _off_the_picture(fit, pixels)[:2]
    length = Measured(
        float(np.linalg.norm(ends[1] - ends[0])),
        fit.u_between(ends[0], ends[1], sd_p_px=END_NOISE_PX, sd_q_px=END_NOISE_PX),
    )
    return length, told_length(fit, ends[0], ends[1], length)


def measure(seed: int, kind: str, level: str) -> tuple[float, ...]:
    """Return error and U of face 1, of face 2 and of both, then their difference and its U."""
    phone = draw_lens(np.random.default_rng((seed, 1)))
    first = draw_scene((seed, 2), KINDS[kind], LEVELS[level], phone)
    second = draw_scene((seed, 3), KINDS[kind], LEVELS[level], phone, first)
    try:
        (one, told_1), (two, told_2) = _told(first), _told(second)
    except ScannerError:
        return ()
    if told_1 is None or told_2 is None:
        return ()
    both, apart, allowed = length_of_both(told_1, told_2)
    errors = [(x.value_mm - first.length_mm, x.u_mm) for x in (one, two, both)]
    return *(value for pair in errors for value in pair), apart, allowed


def main() -> None:
    """Run the bench as the arguments say."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scenes", type=int, default=200)
    arguments.add_argument("--first", type=int, default=DEVELOPMENT, help="first seed")
    arguments.add_argument("--level", default="typical", choices=tuple(LEVELS))
    arguments.add_argument("--kinds", default="strip", help="separated by ;")
    arguments.add_argument("--jobs", type=int, default=2)
    chosen = arguments.parse_args()
    seeds = range(chosen.first, chosen.first + chosen.scenes)
    with workers(chosen.jobs) as pool:
        for kind in chosen.kinds.split(";"):
            found = list(pool.map(partial(measure, kind=kind, level=chosen.level), seeds))
            table = np.array([row for row in found if row])
            apart = np.abs(table[:, 6]) > table[:, 7]
            print(
                f"{kind}, {chosen.level}: {len(table)} boards; "
                f"{apart.sum()} whose faces disagree by more than U"
            )
            for name, at in (("face 1", 0), ("face 2", 2), ("both", 4)):
                errors, us = np.abs(table[:, at]), table[:, at + 1]
                print(
                    f"  {name:7s} {np.median(errors):5.2f} / {np.percentile(errors, 95):5.2f} / "
                    f"{errors.max():5.2f}   U {np.median(us):4.1f}   in U "
                    f"{share_inside(errors[:, None], us[:, None], len(errors))}   worst "
                    f"{(errors / us).max():.1f} U",
                    flush=True,
                )


if __name__ == "__main__":
    main()
