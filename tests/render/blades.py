"""Blades of grass that stand at the rim of what lies in a lawn and lean over it, one by one."""

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, noise_2d
from tests.render.overlay import Overlay
from tests.render.stage import Stage

F64 = NDArray[np.float64]
_STEPS = np.linspace(0, 1, 6)


def overgrow(stage: Stage, picture: F32, owner: NDArray[np.int8]) -> None:
    """Draw the blades into the light seen, in place, and their shadows on board and rule."""
    if stage.photo.floor != "grass":
        return
    shadows, blades = Overlay(*owner.shape), Overlay(*owner.shape)
    rng = np.random.default_rng((stage.photo.seed, 857))
    roots, inward = _board_roots(stage, rng)
    _grow(stage, rng, roots, inward, shadows, blades)
    if stage.box is not None and stage.photo.rule.on == "floor":
        roots, inward = _rule_roots(stage, rng)
        _grow(stage, rng, roots, inward, shadows, blades, tall=0.55)
    shadows.lay(picture, (owner == 1) | (owner == 2))
    blades.lay(picture, np.ones(owner.shape, dtype=bool))


def _board_roots(stage: Stage, rng: np.random.Generator) -> tuple[F64, F64]:
    """Return where blades stand round the board and which way is inward, (N, 2) each."""
    board = stage.shape.board
    n = int(2 * (board.length_mm + board.width_mm) / 2.6)
    ends = rng.random(n) < board.width_mm / (board.length_mm + board.width_mm)
    side = rng.choice([-1, 1], n)
    off = rng.gamma(1.5, 3.0, n)
    mx, my = rng.uniform(0, board.length_mm, n), np.empty(n)
    low, high = stage.shape.edge(mx, 0.0, -1), stage.shape.edge(mx, 0.0, 1)
    my = np.where(side < 0, low - off, high + off)
    my = np.where(ends, rng.uniform(-0.5, 0.5, n) * board.width_mm, my)
    mx = np.where(ends, np.where(side < 0, -off, board.length_mm + off), mx)
    a, b = np.where(ends, -side, 0), np.where(ends, 0, -side)
    roots = stage.laid.on_floor(mx, my)
    return roots, stage.laid.on_floor(mx + a, my + b) - roots


def _rule_roots(stage: Stage, rng: np.random.Generator) -> tuple[F64, F64]:
    assert stage.box is not None
    box = stage.box
    n = int((box.x1 - box.x0) / 4)
    side = rng.choice([-1, 1], n)
    roots = np.column_stack(
        [rng.uniform(box.x0, box.x1, n), side * (box.half + rng.gamma(1.5, 2.5, n))]
    )
    return roots, np.column_stack([np.zeros(n), -side])


def _grow(
    stage: Stage,
    rng: np.random.Generator,
    roots: F64,
    inward: F64,
    shadows: Overlay,
    blades: Overlay,
    tall: float = 1.0,
) -> None:
    n = len(roots)
    x, y = roots.astype(np.float32).T
    tuft = noise_2d(stage.photo.seed + 1, x, y, 60.0)
    keep = rng.random(n) < np.clip(0.35 + 0.35 * tuft, 0.03, 1)
    lean = np.clip(rng.normal(0.15, 0.55, n), -1, 1)  # towards the board, or away from it
    along = np.column_stack([-inward[:, 1], inward[:, 0]]) * rng.choice([-1, 1], n)[:, None]
    heading = inward * lean[:, None] + along * np.sqrt(1 - lean**2)[:, None]
    long = (rng.gamma(5.0, 5.0, n) + 10) * tall * np.clip(1 + 0.25 * tuft, 0.5, 1.6)
    long = np.minimum(long * (1 - 0.45 * np.clip(lean, 0, 1)), 60)
    rise = np.radians(rng.uniform(32, 80, n))
    t = _STEPS
    run = long[:, None] * (np.cos(rise)[:, None] * t + 0.30 * t * t)
    z = long[:, None] * np.sin(rise)[:, None] * t * (1 - 0.5 * t)
    px, py = (roots[:, [k]] + heading[:, [k]] * run for k in (0, 1))
    fx, fy = (c.ravel().astype(np.float32) for c in (px, py))
    top = stage.laid.surface(fx, fy).reshape(px.shape)
    on_board = stage.laid.plan(fx, fy).reshape(px.shape) < 0
    z = np.where(on_board, np.maximum(z, top + 0.6), z)
    # A blade behind the board is seen only where it stands above it.
    eye = stage.photo.camera.centre
    share = np.clip((top - z) / np.maximum(eye[2] - z, 1), 0, 1)
    gx, gy = px + (eye[0] - px) * share, py + (eye[1] - py) * share
    behind = stage.laid.plan(gx.ravel().astype(np.float32), gy.ravel().astype(np.float32))
    hidden = (behind.reshape(px.shape) < 0) & (z < top)
    light = stage.level_light(fx, fy, z.ravel().astype(np.float32)).reshape(n, len(t), 3)
    hue, tone = rng.normal(0, 1, n), np.exp(rng.normal(-0.1, 0.3, n))
    green = np.column_stack([0.100 + 0.022 * hue, 0.135 + 0.008 * hue, 0.044 - 0.004 * hue])
    straw = rng.random(n) < 0.10
    ink = np.where(straw[:, None], np.float32([0.30, 0.235, 0.12]), green) * tone[:, None]
    half = rng.uniform(0.5, 1.35, n)[:, None] * (1 - t**2.5)
    sides = np.column_stack([-heading[:, 1], heading[:, 0]])
    slope = stage.light.slope
    deep = 0.6 if stage.light.spec.kind == "sun" else 0.25
    lines = np.stack([px, py, z], axis=-1)  # (N, steps, 3)
    across = np.zeros_like(lines)
    across[..., :2] = half[..., None] * sides[:, None, :]
    high = top if tall == 1 else np.zeros_like(z)
    fall = lines - np.concatenate(
        [slope * (lines[..., [2]] - high[..., None]), (lines[..., 2] - high)[..., None]], axis=-1
    )

    def project(points: F64) -> F64:
        """Return photo pixels (N, steps, 2)."""
        flat = stage.photo.camera.project(points.reshape(-1, 3))
        return flat.reshape(*points.shape[:2], 2)

    one, mid, two = (project(lines + k * across) for k in (1, 0, -1))
    thrown = [project(fall + k * across) for k in (1, -1)]
    for i in np.nonzero(keep)[0]:
        seen = np.nonzero(~hidden[i])[0]
        if len(seen) < 3:
            continue
        over = np.nonzero(on_board[i][seen])[0]
        if len(over) > 1 or tall < 1:
            shadows.shade(np.vstack([thrown[0][i][seen], thrown[1][i][seen][::-1]]), deep)
        bright = light[i][seen].mean(axis=0) * ink[i]
        first = one[i][seen]
        blades.fill(np.vstack([first, two[i][seen][::-1]]), 0.85 * bright)
        blades.fill(np.vstack([first, mid[i][seen][::-1]]), 1.3 * bright)
