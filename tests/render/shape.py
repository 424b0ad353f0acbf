"""The board's form: where its surfaces lie, wane and all.

Model frame, mm: x from end A, y from the middle of the width (down as face 1 is seen), z from
face 1 into the board. ``truth.py`` moves it by a hair into the board frame of the contract.
"""

import numpy as np
from numpy.typing import NDArray

from tests.render.noise import F32, Waves
from tests.render.specs import BoardSpec

F64 = NDArray[np.float64]
_ARRIS_MM = 0.2  # roughness of sawn edges, sd


class Log:
    """The tree the board was cut from: its pith line and the surface of its wood."""

    def __init__(self, board: BoardSpec) -> None:
        rng = np.random.default_rng((board.seed, 101))
        self._board = board
        long = rng.uniform(1600, 4200, 2)
        self._k = 2 * np.pi / long
        self._phase = rng.uniform(0, 2 * np.pi, 2)
        self._sway = rng.uniform(2, 9, 2)
        self._slope = rng.normal(0, 0.004, 2)
        self.taper = float(rng.uniform(0.002, 0.009)) * float(rng.choice([-1, 1]))

    def pith(self, x: NDArray) -> tuple[NDArray, NDArray]:
        """Return y and z of the pith line at x."""
        b = self._board
        away = x - np.float32(b.length_mm / 2)
        sway = [
            np.float32(self._sway[i])
            * np.sin(np.float32(self._k[i]) * x + np.float32(self._phase[i]))
            + np.float32(self._slope[i]) * away
            for i in (0, 1)
        ]
        return np.float32(b.pith_y) + sway[0], np.float32(b.pith_z) + sway[1]


class Shape:
    """Half-spaces that bound the board, and the wane that rounds one of its edges."""

    def __init__(self, board: BoardSpec) -> None:
        rng = np.random.default_rng((board.seed, 103))
        self.board = board
        self.log = Log(board)
        self._wavy = [
            (rng.uniform(300, 1100), rng.uniform(0, 6.28), rng.uniform(0, 0.5)) for _ in range(4)
        ]
        self._ragged = [
            Waves(int(rng.integers(1 << 30)), (26.0, 26.0, 14.0), 7, 1.0) for _ in range(4)
        ]
        self._lobes = [(rng.uniform(90, 500), rng.uniform(0, 6.28)) for _ in range(5)]
        self._patches = [(rng.uniform(60, 420), rng.uniform(0, 6.28)) for _ in range(4)]
        self._tan_a = float(np.tan(np.radians(board.end_a_deg)))
        self._tan_b = float(np.tan(np.radians(board.end_b_deg)))
        self.bark_side_z = 0.0 if board.pith_z > board.thickness_mm / 2 else board.thickness_mm

    def middle(self, x: NDArray) -> NDArray:
        """Return y of the line half way between both sawn edges (crook)."""
        a = 2 * x / self.board.length_mm - 1
        return self.board.crook * (1 - a * a)

    def sawn(self, x: NDArray, side: int) -> NDArray:
        """Return y of the sawn edge on a side (-1 or +1), before any wane."""
        b = self.board
        half = 0.5 * b.width_mm * (1 + b.taper * (0.5 - x / b.length_mm))
        wave = (
            sum(
                size * np.sin(2 * np.pi * x / long + phase + side)
                for long, phase, size in self._wavy[:2]
                if side < 0
            )
            if side < 0
            else sum(
                size * np.sin(2 * np.pi * x / long + phase) for long, phase, size in self._wavy[2:]
            )
        )
        return self.middle(x) + side * (half + wave)

    def end(self, y: NDArray, which: str) -> NDArray:
        """Return x of an end's sawn surface."""
        return y * self._tan_a if which == "A" else self.board.length_mm + y * self._tan_b

    def wane_mm(self, x: NDArray) -> NDArray:
        """Return the wane's width on the bark-side face (negative: none)."""
        w = self.board.wane
        if w is None:
            return np.full(np.shape(x), -50.0)
        away = (x / self.board.length_mm - w.middle) / w.spread
        lobe = sum(np.sin(2 * np.pi * x / long + phase) for long, phase in self._lobes)
        # Past its ends the log only slowly grows thicker than the board needs.
        return w.width * (1 - 1.5 * away * away / (1 + 0.5 * away * away) + 0.09 * lobe)

    def wood_radius(self, x: NDArray) -> NDArray:
        """Return the distance of the wood's outer surface (under the bark) from the pith."""
        b = self.board
        if b.wane is None:
            return np.full(np.shape(x), b.log_mm)
        return self._wane_radius(x, self.sawn(x, b.wane.side), *self.log.pith(x))

    def _wane_radius(self, x: NDArray, sawn: NDArray, py: NDArray, pz: NDArray) -> NDArray:
        assert self.board.wane is not None
        inner = self.board.wane.side * (sawn - py) - self.wane_mm(x)
        return np.hypot(inner, self.bark_side_z - pz)

    def bark_mm(self, x: NDArray) -> NDArray:
        """Return the thickness of the bark still on the wane."""
        w = self.board.wane
        if w is None:
            return np.zeros(np.shape(x))
        patch = sum(np.sin(2 * np.pi * x / long + phase) for long, phase in self._patches) / 2
        return w.bark_mm * np.clip((patch + 2.2 * w.bark - 1.1) * 4, 0, 1)

    def edge(self, x: NDArray, z: NDArray | float, side: int, *, with_bark: bool = True) -> NDArray:
        """Return y of the board's edge at a height: sawn, or the wane where it cuts in."""
        sawn = self.sawn(x, side)
        if self.board.wane is None or self.board.wane.side != side:
            return sawn
        py, pz = self.log.pith(x)
        radius = self._wane_radius(x, sawn, py, pz) + (self.bark_mm(x) if with_bark else 0.0)
        deep = z - pz
        out = py + side * np.sqrt(np.maximum(radius * radius - deep * deep, 0))
        return np.minimum(sawn, out) if side > 0 else np.maximum(sawn, out)

    def outside(
        self, x: F32, y: F32, z: F32 | float, *, ragged: bool = True
    ) -> tuple[F32, NDArray]:
        """Return how far outside the board points lie (mm, negative inside) and the nearest side.

        Sides: 0 smaller y, 1 larger y, 2 end A, 3 end B.
        """
        stacked = np.stack(self._past_sides(x, y, z, ragged))
        return stacked.max(axis=0), stacked.argmax(axis=0)

    def past(self, x: F32, y: F32, z: F32 | float, *, ragged: bool = True) -> F32:
        """Return how far outside the board points lie (mm, negative inside)."""
        low, high, a, b = self._past_sides(x, y, z, ragged)
        return np.maximum(np.maximum(low, high), np.maximum(a, b))

    def _past_sides(self, x: F32, y: F32, z: F32 | float, ragged: bool) -> list[F32]:
        parts = [
            self.edge(x, z, -1) - y,
            y - self.edge(x, z, 1),
            self.end(y, "A") - x,
            x - self.end(y, "B"),
        ]
        if ragged:
            for i, field in enumerate(self._ragged):
                near = np.abs(parts[i]) < 1.5
                if near.any():
                    zz = z if np.isscalar(z) else np.broadcast_to(z, x.shape)[near]
                    parts[i][near] += _ARRIS_MM * field.at(x[near], y[near], zz)
        return [np.asarray(p, dtype=np.float32) for p in parts]

    @property
    def reach_mm(self) -> tuple[float, float]:
        """How far from the middle of length and width the board reaches at most, with room."""
        b = self.board
        slant = max(abs(self._tan_a), abs(self._tan_b)) * b.width_mm
        wide = 0.5 * b.width_mm * (1 + abs(b.taper)) + abs(b.crook)
        return 0.5 * b.length_mm + slant + 10.0, wide + 10.0

    def outline(self, z: float, step_mm: float = 10.0, *, silhouette: bool = False) -> F64:
        """Return the outline at face height ``z`` (arris), or the board's silhouette, shape (N, 2).

        Order: end A from smaller to larger y, then along the larger-y edge to end B and back.
        """
        b = self.board
        n = max(int(b.length_mm / step_mm), 8)
        rows = []
        for side in (-1, 1):
            x = np.linspace(0, b.length_mm, n)
            for _ in range(4):  # the corner lies where edge and end meet
                y = self._edge_for(x, z, side, silhouette)
                x = np.linspace(float(self.end(y[0], "A")), float(self.end(y[-1], "B")), n)
            rows.append(np.column_stack([x, self._edge_for(x, z, side, silhouette)]))
        return np.vstack([rows[0][:1], rows[1], rows[0][:0:-1]])

    def _edge_for(self, x: NDArray, z: float, side: int, silhouette: bool) -> NDArray:
        if not silhouette:
            return np.asarray(self.edge(x, z, side, with_bark=False), dtype=np.float64)
        heights = np.linspace(0, self.board.thickness_mm, 9)
        edges = np.stack([self.edge(x, h, side) for h in heights])
        return np.asarray(edges.max(axis=0) if side > 0 else edges.min(axis=0), dtype=np.float64)
