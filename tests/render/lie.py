"""How a warped board lies on the floor: its faces as curved surfaces, at rest on what touches.

The warp is a quadratic in the model frame, so its height over the floor is one too, in any frame.
Bending is taken as a shear: each point moves straight up. Along the face a bow of 12 mm over 8 ft
adds 0.16 mm to the length, which the tape would find and nothing else does.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from tests.render.specs import BoardSpec

F64 = NDArray[np.float64]


class Lie:
    """Heights over the floor of the board with one face up. ``face`` 1 or 2 is the upper one."""

    def __init__(self, board: BoardSpec, face: int) -> None:
        self._half = board.length_mm / 2, board.width_mm / 2
        self.thickness = board.thickness_mm
        up = 1.0 if face == 1 else -1.0
        quad = up * np.array([board.bow, board.cup, board.twist / 4])
        grid = np.linspace(-1, 1, 9)
        a, b = (g.ravel() for g in np.meshgrid(grid, grid))
        bent = quad[0] * a * a + quad[1] * b * b + quad[2] * a * b
        rest = np.zeros(3)
        if quad.any():
            # The plane that carries it is the highest one under its middle that stays below it.
            ones = np.ones(len(a))
            found = linprog(
                [-1, 0, 0],
                A_ub=np.column_stack([ones, a, b]),
                b_ub=bent,
                bounds=[(None, None)] * 3,
                method="highs",
            )
            rest = np.asarray(found.x)
        # Height of the underside: c0 + c1 a + c2 b + c3 aa + c4 bb + c5 ab.
        self.terms = np.concatenate([-rest, quad])
        self.highest = float(max((bent - rest[0] - rest[1] * a - rest[2] * b).max(), 0.0))

    @property
    def is_flat(self) -> bool:
        return not self.terms.any()

    def _shares(self, x: NDArray, y: NDArray) -> tuple[NDArray, NDArray]:
        half_long, half_wide = (np.float32(h) for h in self._half)
        a = np.clip(x / half_long - 1, -1.1, 1.1)
        return a, np.clip(y / half_wide, -1.3, 1.3)

    def lift(self, x: NDArray, y: NDArray) -> NDArray:
        """Return the height of the underside over the floor at model-frame points, mm."""
        if self.is_flat:
            return np.zeros(np.shape(x), dtype=np.float32)
        a, b = self._shares(x, y)
        c = self.terms.astype(np.float32)
        return c[0] + a * (c[1] + c[3] * a + c[5] * b) + b * (c[2] + c[4] * b)

    def slope(self, x: NDArray, y: NDArray) -> tuple[NDArray, NDArray]:
        """Return how the faces rise along model x and y."""
        a, b = self._shares(x, y)
        c = self.terms.astype(np.float32)
        long, wide = (np.float32(h) for h in self._half)
        return (c[1] + 2 * c[3] * a + c[5] * b) / long, (c[2] + 2 * c[4] * b + c[5] * a) / wide

    def face_in(self, turn: F64, shift: F64) -> list[float]:
        """Return the upper face's height over the floor in another frame.

        ``model = turn frame + shift``; the six terms are 1, x, y, xx, xy, yy of that frame.
        """
        long, wide = self._half
        c = self.terms
        # a = A . (1, x, y) and b = B . (1, x, y)
        first = np.array([shift[0] / long - 1, *(turn[0] / long)])
        second = np.array([shift[1] / wide, *(turn[1] / wide)])
        one = np.array([1.0, 0.0, 0.0])
        total = np.outer(one, (c[0] + self.thickness) * one + c[1] * first + c[2] * second)
        total += c[3] * np.outer(first, first) + c[4] * np.outer(second, second)
        total += c[5] * np.outer(first, second)
        m = total + total.T
        return [
            float(v) for v in (total[0, 0], m[0, 1], m[0, 2], total[1, 1], m[1, 2], total[2, 2])
        ]
