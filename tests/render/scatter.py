"""What lies loose on floor and board: grit, crumbs, sawdust, chips, dry leaves; most of it tiny.

Sizes follow a power law, as broken things do; more gathers along the board and in drifts.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32
from tests.render.overlay import Overlay
from tests.render.stage import Stage
from tests.render.wood import linear

F64 = NDArray[np.float64]


@dataclass(frozen=True)
class _Kind:
    """One kind of litter; sizes are half lengths in mm."""

    count: int
    least: float
    most: float
    power: float  # of the power law of sizes: larger is finer
    slim: tuple[float, float]  # width over length
    tall: float  # height over width
    inks: tuple[tuple[int, int, int], ...]
    drifts: int  # it lies in so many drifts; 0: everywhere
    near: float  # the share that lies along the board


_GRIT = _Kind(
    1500, 0.7, 5, 2.3, (0.5, 1), 0.7,
    ((74, 70, 64), (52, 50, 48), (150, 146, 138), (196, 192, 184), (112, 98, 80)), 0, 0.12,
)  # fmt: skip
_DUST = _Kind(
    1100, 0.7, 3.5, 2.2, (0.25, 0.8), 0.4,
    ((206, 178, 136), (186, 152, 108), (222, 200, 164)), 5, 0.35,
)  # fmt: skip
_LEFT = _Kind(  # what the brush left on a face
    10, 0.5, 1.4, 2.6, (0.3, 0.8), 0.4, ((206, 178, 136), (186, 152, 108), (150, 140, 126)), 0, 0.0
)
_CHIPS = _Kind(
    70, 3, 22, 1.9, (0.06, 0.3), 0.5,
    ((214, 186, 142), (178, 140, 96), (128, 92, 62)), 3, 0.35,
)  # fmt: skip
_STONES = _Kind(
    900, 1.0, 9, 2.4, (0.6, 1), 0.7,
    ((120, 116, 110), (164, 158, 150), (86, 84, 82), (146, 128, 106)), 4, 0.1,
)  # fmt: skip
_LEAVES = _Kind(
    40, 9, 34, 1.4, (0.35, 0.6), 0.25,
    ((120, 98, 68), (100, 80, 58), (138, 116, 76), (84, 72, 58)), 3, 0.0,
)  # fmt: skip
_BITS = _Kind(
    500, 1.5, 12, 2.2, (0.06, 0.3), 0.5, ((120, 100, 66), (84, 70, 48), (150, 136, 92)), 5, 0.1
)
_FLOWERS = _Kind(60, 2.5, 6, 2.5, (0.8, 1), 0.8, ((222, 220, 210), (214, 196, 90)), 5, 0.0)
_ON = {
    "concrete": (_GRIT, _DUST, _CHIPS),
    "plywood": (_DUST, _DUST, _CHIPS, _GRIT),
    "asphalt": (_STONES, _BITS, _LEAVES),
    "grass": (_LEAVES, _BITS, _FLOWERS),
}


def strew(stage: Stage, picture: F32, owner: NDArray[np.int8]) -> None:
    """Lay the litter of a scene into the light seen, in place."""
    photo = stage.photo
    layer = Overlay(*owner.shape)
    for number, kind in enumerate(_ON[photo.floor]):
        rng = np.random.default_rng((photo.ground_seed, 839, number))
        swept = float(rng.uniform(0.15, 1.3) if photo.floor != "grass" else rng.uniform(0.2, 1))
        _lay(stage, layer, rng, kind, int(kind.count * swept))
    layer.lay(picture, owner == 0)
    if photo.floor in ("concrete", "plywood"):  # out of doors the wind sweeps a face
        upon = Overlay(*owner.shape)
        rng = np.random.default_rng((photo.seed, 841))
        _lay(stage, upon, rng, _LEFT, _LEFT.count, on_board=True)
        upon.lay(picture, owner == 1)


def _places(stage: Stage, rng: np.random.Generator, kind: _Kind, count: int) -> F64:
    """Return where things lie on the floor's plane, (N, 2)."""
    long, low, high = stage.photo.rule.length_mm, *stage.free
    box = np.array([[-700.0, low - 1500], [long + 700, high + 1500]])
    if kind.drifts:
        middle = rng.uniform(box[0], box[1], (kind.drifts, 2))
        spread = np.exp(rng.uniform(np.log(40), np.log(500), kind.drifts))
        pick = rng.integers(0, kind.drifts, count)
        at = middle[pick] + rng.normal(0, 1, (count, 2)) * spread[pick][:, None]
    else:
        at = rng.uniform(box[0], box[1], (count, 2))
    beside = rng.random(count) < kind.near
    board = stage.shape.board
    n = int(beside.sum())
    mx = rng.uniform(-30, board.length_mm + 30, n)
    away = rng.exponential(28.0, n) + 1.0
    my = rng.choice([-1.0, 1.0], n) * (board.width_mm / 2 + away)
    at[beside] = stage.laid.on_floor(mx, my)
    return at


def _lay(
    stage: Stage,
    layer: Overlay,
    rng: np.random.Generator,
    kind: _Kind,
    count: int,
    *,
    on_board: bool = False,
) -> None:
    at = _places(stage, rng, kind, count)
    if on_board:
        board = stage.shape.board
        side = rng.uniform(-0.5, 0.5, count) * board.width_mm
        at = stage.laid.on_floor(rng.uniform(0, board.length_mm, count), side)
    share = rng.random(count)
    a = 1 - kind.power
    low, high = kind.least**a, kind.most**a
    size = (low + share * (high - low)) ** (1 / a)
    wide = size * rng.uniform(*kind.slim, count)
    turn = rng.uniform(0, 2 * np.pi, count)
    x, y = at.astype(np.float32).T
    ground = stage.laid.surface(x, y).astype(np.float32) if on_board else np.zeros_like(x)
    light = stage.level_light(x, y, ground)
    inks = np.stack([linear(ink) for ink in kind.inks])[rng.integers(0, len(kind.inks), count)]
    inks = inks * np.exp(rng.normal(0, 0.18, (count, 1)))
    corners = rng.integers(4, 9, count)
    points = np.column_stack([at, ground])
    middle = stage.photo.camera.project(points)
    ahead = stage.photo.camera.faces(points)
    frame = np.array(stage.photo.camera.size)
    inside = ahead & ((middle > -40) & (middle < frame + 40)).all(axis=1)
    towards = stage.light.towards
    slope = stage.light.slope
    deep = 0.55 if stage.light.spec.kind == "sun" else 0.32
    these = np.nonzero(inside)[0]
    if not len(these):
        return
    ring, count_of, of = _rings(rng, these, corners, size, wide, turn, at)
    tall = kind.tall * wide[these]
    ground_of = ground[these]
    lifted = np.column_stack([ring, (ground_of + tall)[of]])
    thrown = np.column_stack([ring - (0.8 * tall)[of, None] * slope, ground_of[of]])
    risen, cast = (stage.photo.camera.project(points) for points in (lifted, thrown))
    start = np.concatenate([[0], np.cumsum(count_of)[:-1]])
    area = np.prod(np.maximum.reduceat(risen, start) - np.minimum.reduceat(risen, start), axis=1)
    faint = np.clip(area, 0.12, 1)
    tones = light[these] * inks[these]
    # A facet that looks towards the light.
    lit = (ring - at[these][of]) @ towards[:2] > ((0.25 * size[these])[of] * np.hypot(*towards[:2]))
    for k, i in enumerate(these):
        mine = slice(start[k], start[k] + count_of[k])
        cover = float(faint[k])
        layer.shade(cast[mine], deep * cover)
        layer.fill(risen[mine], tones[k], cover)
        if area[k] > 14:
            facet = np.vstack([risen[mine][lit[mine]], middle[i][None]])
            if len(facet) > 2:
                layer.fill(facet, 1.25 * tones[k], cover)


def _rings(
    rng: np.random.Generator,
    these: NDArray[np.intp],
    corners: NDArray[np.int64],
    size: F64,
    wide: F64,
    turn: F64,
    at: F64,
) -> tuple[F64, NDArray[np.intp], NDArray[np.intp]]:
    """Return the outlines of things on the plane, one after another, their lengths and owners."""
    counts = corners[these] + 2 * np.minimum(size[these], 8).astype(int)
    drawn = [(rng.uniform(-0.45, 0.45, n), rng.standard_normal(n)) for n in counts]
    of = np.repeat(np.arange(len(these)), counts)
    place = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts, counts)
    jitter, rough = (np.concatenate(parts) for parts in zip(*drawn, strict=True))
    turned = turn[these][of]
    angle = (place + jitter) * 2 * np.pi / counts[of]
    radius = 1 + 0.12 * rough + 0.10 * np.sin(3 * angle + turned)
    u, v = size[these][of] * radius * np.cos(angle), wide[these][of] * radius * np.sin(angle)
    c, s = np.cos(turned), np.sin(turned)
    return np.column_stack([u * c - v * s, u * s + v * c]) + at[these][of], counts, of
