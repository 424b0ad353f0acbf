"""How often the order proposed for slices of one board is their true order: `bothfaces assemble`.

Rendered faces are ripped into slices as wide as staves, with what saw and jointer take between
them lost; the slices are shuffled and some turned end for end. Run: python -m tests.bench.joints
--seeds 6000-6019
"""

import argparse
import math

import numpy as np

from scanner.lot.best_order import best_row
from scanner.vision.looks.joint_look import MM_PER_PX, joints_of, look_of
from tests.bench.figures import Bench, Figure, keep, share_interval, share_text
from tests.render.draw_boards import draw_board
from tests.render.flat import render_face

# A kerf and a jointed edge on each side.
LOST_MM = 3.2 + 6.0
SLICES = 4


def slices_of(seed: int, face: int = 1) -> list[np.ndarray]:
    """Return the slices of a rendered face from its upper to its lower edge, (H, W, 3) each."""
    board = draw_board(seed, clean=True, length_mm=1100.0)
    picture, wood = render_face(board, face, MM_PER_PX)
    columns = np.nonzero(wood.mean(axis=0) > 0.6)[0]
    left, right = columns[0] + 40, columns[-1] - 40
    inside = wood[:, left:right].all(axis=1)
    rows = np.nonzero(inside)[0]
    top, bottom = rows[0] + 4, rows[-1] - 4
    lost = LOST_MM / MM_PER_PX
    each = ((bottom - top) - (SLICES - 1) * lost) / SLICES
    starts = [round(top + k * (each + lost)) for k in range(SLICES)]
    return [picture[start : start + int(each), left:right] for start in starts]


def trial(slices: list[np.ndarray], rng: np.random.Generator) -> tuple[bool, int]:
    """Shuffle and turn slices; return whether their order is found, and joints that are right."""
    count = len(slices)
    shuffled = rng.permutation(count)
    turned = rng.random(count) < 0.5
    looks = []
    for k, turn in zip(shuffled, turned, strict=True):
        look = look_of(slices[k])
        shown = look.turned() if turn else look
        looks.append([shown, shown.turned()])
    row = best_row(joints_of(looks))
    order = [int(shuffled[k]) for k in row.order]
    flips = [bool(turned[k]) != bool(s) for k, s in zip(row.order, row.states, strict=True)]
    is_true = order in (list(range(count)), list(range(count))[::-1])
    # The whole row may be turned as one.
    is_true = is_true and len(set(flips)) == 1 and flips[0] == (order[0] != 0)
    right = sum(
        abs(a - b) == 1 and f == g
        for a, b, f, g in zip(order, order[1:], flips, flips[1:], strict=False)
    )
    return is_true, right


def main() -> None:
    """Print the shares with their intervals, and what chance would give."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="6000-6019")
    first, last = map(int, parser.parse_args().seeds.split("-"))
    found, joints, of, every = 0, 0, 0, 0
    for seed in range(first, last + 1):
        slices = slices_of(seed)
        is_true, right = trial(slices, np.random.default_rng(seed))
        found, joints = found + is_true, joints + right
        of, every = of + 1, every + len(slices) - 1
        print(seed, "found" if is_true else f"{right} of {len(slices) - 1} joints", flush=True)
    chance = 2 / (math.factorial(SLICES) * 2**SLICES)
    by_chance = 1 / (2 * SLICES)
    print(f"whole order and lie: {share_text(found, of)}; by chance {chance:.1%}")
    print(f"joints: {share_text(joints, every)}; by chance {by_chance:.0%}")
    keep(
        Bench(
            name="joints",
            title="Order of staves proposed from photographs",
            data=f"{of} rendered faces (seeds {first}-{last}), ripped into {SLICES}",
            command=f"python -m tests.bench.joints --seeds {first}-{last}",
            figures=(
                Figure("joints put together as they grew", share_text(joints, every),
                       f"more than chance ({by_chance:.0%})",
                       share_interval(joints, every)[0] > by_chance),
                Figure("whole faces put back in order and lie", share_text(found, of),
                       f"more than chance ({chance:.1%})", share_interval(found, of)[0] > chance),
            ),
        )
    )  # fmt: skip


if __name__ == "__main__":
    main()
