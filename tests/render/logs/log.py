"""The recipe of a log, and of a board that says where in its log it was sawn."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from tests.render.shape import Log
from tests.render.specs import BoardSpec


@dataclass(frozen=True)
class LogSpec:
    """One log.

    ``lighter``, ``redder``, ``yellower`` are its own colour against its species' mean: shares of
    light, as powers of e.
    """

    seed: int
    radius_mm: float  # under the bark
    length_mm: float
    lighter: float
    redder: float
    yellower: float


@dataclass(frozen=True)
class LogBoard(BoardSpec):
    """A board and its place in a log: end A so far up it, turned so far about the pith."""

    log: LogSpec | None = None
    along_mm: float = 0.0
    turn_rad: float = 0.0

    @property
    def own_log(self) -> LogSpec:
        assert self.log is not None
        return self.log

    def section(self) -> Polygon:
        """Return where the board lies in the log's cross-section; the pith is at (0, 0)."""
        half, t = self.width_mm / 2, self.thickness_mm
        corners = np.array([[-half, 0.0], [half, 0.0], [half, t], [-half, t]])
        return Polygon((corners - [self.pith_y, self.pith_z]) @ turned(self.turn_rad).T)


def turned(by_rad: float) -> NDArray[np.float64]:
    """Return the matrix that turns directions of a board into those of its log."""
    c, s = float(np.cos(by_rad)), float(np.sin(by_rad))
    return np.array([[c, -s], [s, c]])


class SharedLog(Log):
    """The pith line of a log in the frame of one of its boards."""

    def __init__(self, board: LogBoard) -> None:
        super().__init__(board)
        log = board.own_log
        rng = np.random.default_rng((log.seed, 101))
        self._k = 2 * np.pi / rng.uniform(1600, 4200, 2)
        self._phase = rng.uniform(0, 2 * np.pi, 2)
        self._sway = rng.uniform(2, 9, 2)
        self._slope = rng.normal(0, 0.004, 2)
        self.taper = float(rng.uniform(0.002, 0.009))
        self._place = board

    def pith(self, x: NDArray) -> tuple[NDArray, NDArray]:
        up = x + np.float32(self._place.along_mm)
        away = up - np.float32(self._place.own_log.length_mm / 2)
        sway = [
            np.float32(self._sway[i])
            * np.sin(np.float32(self._k[i]) * up + np.float32(self._phase[i]))
            + np.float32(self._slope[i]) * away
            for i in (0, 1)
        ]
        turn = turned(self._place.turn_rad).T.astype(np.float32)
        y = turn[0, 0] * sway[0] + turn[0, 1] * sway[1]
        z = turn[1, 0] * sway[0] + turn[1, 1] * sway[1]
        return np.float32(self._place.pith_y) + y, np.float32(self._place.pith_z) + z
