"""Holes, bark pockets, stain, mineral, gum, as shapes on the faces."""

from dataclasses import dataclass

import numpy as np

from tests.render_two.noise import wander


@dataclass(frozen=True, eq=False)
class Patch:
    """A blemish: its ring on each face that it shows on, board mm."""

    kind: str
    look: str
    rings: dict[int, np.ndarray]
    strength: float


def draw_patches(rng, solid, form, species, branches) -> tuple[Patch, ...]:
    made: list[Patch] = []
    if rng.random() < 0.25:
        made += _worm_holes(rng, solid, form)
    if rng.random() < 0.22:
        for _ in range(int(rng.integers(1, 3))):
            made += _lens(rng, solid, form, "bark_pocket", (14, 70), (0.1, 0.28))
    if species.name in ("cherry", "maple") and rng.random() < 0.5:
        kind = "pitch" if species.name == "cherry" else "stain"
        look = "gum" if kind == "pitch" else "mineral"
        for _ in range(int(rng.integers(1, 4))):
            made += _lens(rng, solid, form, kind, (20, 130), (0.03, 0.09), look)
    if species.name in ("oak", "ash", "maple") and rng.random() < 0.2:
        made += _lens(rng, solid, form, "stain", (70, 240), (0.12, 0.3), "blue")
    return tuple(made)


def _place(rng, form, edge=10.0):
    face = int(rng.integers(1, 3))
    low, high = form.edges(face)
    at = int(rng.integers(len(form.x) // 20, len(form.x) * 19 // 20))
    return face, float(form.x[at]), float(rng.uniform(low[at] + edge, high[at] - edge))


def _blob(rng, x, y, a, b, rough=0.1):
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    r = 1 + sum(
        rng.normal(0, rough / n) * np.cos(n * turn + rng.uniform(0, 6.3)) for n in (2, 3, 4, 5)
    )
    return np.column_stack([x + a * r * np.cos(turn), y + b * r * np.sin(turn)])


def _worm_holes(rng, solid, form):
    face, x, y = _place(rng, form)
    big = rng.random() < 0.6
    made = []
    for _ in range(int(rng.integers(1, 4 if big else 9))):
        r = rng.uniform(1.6, 4.5) if big else rng.uniform(0.4, 1.0)
        cx, cy = x + rng.normal(0, 50), y + rng.normal(0, 14)
        through = rng.random() < 0.4
        rings = {face: _blob(rng, cx, cy, r * rng.uniform(1, 1.7), r, 0.06)}
        if through:
            rings[3 - face] = _blob(rng, cx + rng.normal(0, 3), cy + rng.normal(0, 3), r, r, 0.06)
        if all(_inside(form, f, ring) for f, ring in rings.items()):
            made.append(Patch("hole", "worm", rings, rng.uniform(0.7, 1)))
    return made


def _lens(rng, solid, form, kind, lengths, slim, look="plain"):
    """Return a lens along the fibres."""
    face, x, y = _place(rng, form, 14)
    length = np.exp(rng.uniform(*np.log(lengths)))
    width = length * rng.uniform(*slim)
    line = solid.follow(x, x + length, y, 0.0 if face == 1 else solid.thickness)
    share = np.linspace(0, 1, len(line))
    half = width / 2 * np.sin(np.pi * share) ** 0.8
    up, down = line.copy(), line.copy()
    up[:, 1] -= half * np.clip(1 + 0.35 * wander(rng, len(line), 4), 0.3, 2)
    down[:, 1] += half * np.clip(1 + 0.35 * wander(rng, len(line), 4), 0.3, 2)
    ring = np.concatenate([up, down[::-1]])
    if not _inside(form, face, ring):
        return []
    return [Patch(kind, look, {face: ring}, rng.uniform(0.5, 1.0))]


def _inside(form, face, ring):
    low, high = form.edges(face)
    at = np.interp(ring[:, 0], form.x, low) + 2, np.interp(ring[:, 0], form.x, high) - 2
    sides = (ring[:, 1] > at[0]).all() and (ring[:, 1] < at[1]).all()
    return bool(sides and ring[:, 0].min() > 4 and ring[:, 0].max() < form.x[-1] - 4)
