"""What drying, resin and its owner did to a board: warp, shakes, pitch, worms, oil, chalk.

Drawn from streams of their own, so that a seed's knots and cracks stay what they were.
"""

from dataclasses import replace
from typing import Literal

import numpy as np

from tests.render.specs import BoardSpec, CrackSpec, MarkSpec, SpotSpec

CHALK = ("white chalk", "yellow chalk", "blue crayon", "red crayon", "black crayon")


def with_warp(board: BoardSpec) -> BoardSpec:
    """Return the board bowed, cupped and twisted as a stickered board dries.

    A board cups hollow on the side away from the pith, the more the wider and the nearer the pith.
    """
    rng = np.random.default_rng((board.seed, 12))
    long = board.length_mm / 2440
    away = abs(board.pith_z - board.thickness_mm / 2)
    bark_side = 1.0 if board.pith_z > board.thickness_mm / 2 else -1.0
    cup = 0.9 * (board.width_mm / 180) ** 2 * float(np.clip(70 / away, 0.3, 1.6))
    return replace(
        board,
        bow=round(float(np.clip(rng.normal(0, 2.6), -9, 9)) * long**2, 2),
        cup=round(bark_side * cup * float(rng.gamma(2.0, 0.5)), 2),
        twist=round(float(np.clip(rng.normal(0, 1.8), -6, 6)) * long, 2),
    )


def with_extras(board: BoardSpec) -> BoardSpec:
    """Return the board with now and then a shake, pitch, worm holes, an oil stain, a mark."""
    rng = np.random.default_rng((board.seed, 13))
    cracks, spots = list(board.cracks), list(board.spots)
    half, length, t = board.width_mm / 2, board.length_mm, board.thickness_mm
    if rng.random() < 0.12:
        long = float(rng.uniform(60, 300))
        short = long * float(rng.uniform(0.4, 1.0))
        cracks.append(
            CrackSpec(
                "shake",
                str(rng.choice(["A", "B"])),  # type: ignore[arg-type]
                0,
                0.0,
                float(rng.choice([-1, 1]) * rng.uniform(0.3, 0.75) * half),
                long,
                short,
                float(rng.uniform(0.5, 1.4)),
                int(rng.integers(1 << 30)),
            )
        )

    def spot(
        kind: Literal["hole", "stain", "pitch"],
        look: str,
        at: tuple[float, float, float],
        size: tuple[float, float, float],
    ) -> None:
        spots.append(SpotSpec(kind, look, *at, size, int(rng.integers(1 << 30))))

    def somewhere() -> tuple[float, float, float]:
        x, y = rng.uniform(0.06, 0.94) * length, rng.uniform(-0.85, 0.85) * half
        return float(x), float(y), float(rng.choice([0.0, t]))

    if rng.random() < 0.15:
        pocket = rng.random() < 0.4
        size = (rng.uniform(8, 22), rng.uniform(1.5, 3.5)) if pocket else (rng.uniform(40, 160), 2)
        spot(
            "pitch",
            "pocket" if pocket else "streak",
            somewhere(),
            (float(size[0]), float(size[1]), 5.0),
        )
    if rng.random() < 0.12:
        x, y, z = somewhere()
        for _ in range(int(rng.integers(3, 10))):
            radius = float(rng.uniform(0.5, 1.3))
            dx, dy = rng.normal(0, 60), rng.normal(0, 18)
            spot("hole", "worm", (x + float(dx), y + float(dy), z), (radius, radius, 0.4 * t))
    if rng.random() < 0.25:
        size = float(rng.uniform(8, 45))
        spot("stain", "oil", somewhere(), (size * float(rng.uniform(0.8, 1.5)), size, 2.0))
    marks = (draw_mark(int(rng.integers(1 << 30)), board),) if rng.random() < 0.15 else ()
    return replace(board, cracks=tuple(cracks), spots=tuple(spots), marks=marks)


def draw_mark(
    seed: int,
    board: BoardSpec,
    *,
    kind: Literal["loop", "cross", "line"] | None = None,
    face: int | None = None,
    tool: str | None = None,
) -> MarkSpec:
    """Return a chalk or crayon mark: round a knot if there is one, else anywhere."""
    rng = np.random.default_rng((seed, 14))
    what = kind or str(rng.choice(["loop", "cross", "line"]))
    half, length = board.width_mm / 2, board.length_mm
    x, y = float(rng.uniform(0.15, 0.85) * length), float(rng.uniform(-0.4, 0.4) * half)
    size = float(rng.uniform(28, 60)), float(rng.uniform(22, 0.6 * half))
    if what == "loop" and board.knots:
        knot = board.knots[int(rng.integers(len(board.knots)))]
        x, y = knot.x + float(rng.normal(0, 4)), float(np.clip(knot.y, -0.6 * half, 0.6 * half))
        size = 2.2 * knot.radius + 14, 1.5 * knot.radius + 11
    if what == "line":
        x, y = float(rng.uniform(40, 180)), 0.0
        x = x if rng.random() < 0.5 else length - x
        size = 4.0, 0.93 * half
    dark = board.species == "walnut"
    inks = CHALK[:2] if dark else CHALK[2:]
    return MarkSpec(
        kind=what,  # type: ignore[arg-type]
        tool=tool or str(rng.choice(inks)),
        face=face or int(rng.integers(1, 3)),
        x=x,
        y=y,
        size=size,
        wide=float(rng.uniform(3.5, 8.0)),
        seed=int(rng.integers(1 << 30)),
    )
