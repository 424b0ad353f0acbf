"""Bow, crook, cup, twist as numbers (Wood Handbook, glossary)."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Warp:
    """How far a board is from flat and straight, mm; None where nobody measured it.

    What nobody measured counts as flat, and is never said to be so. Bow and cup are positive
    where face 1 is hollow; ``sign_known`` is False where the user typed no sign, and then both
    directions are allowed for.
    """

    bow_mm: float | None = None
    cup_mm: float | None = None
    twist_mm: float | None = None
    crook_mm: float | None = None
    sign_known: bool = True

    @property
    def is_flatness_known(self) -> bool:
        """Whether anybody measured how flat the faces are; crook is seen on any outline."""
        return (self.bow_mm, self.cup_mm, self.twist_mm) != (None, None, None)


def turned_over(warp: Warp) -> Warp:
    """Return the warp as face 2 has it: what is hollow on face 1 is crowned there."""
    bow, cup = (None if bend is None else -bend for bend in (warp.bow_mm, warp.cup_mm))
    return replace(warp, bow_mm=bow, cup_mm=cup)


def crook_mm(edge_mm: NDArray[np.float64]) -> float:
    """Return the greatest distance of a long edge from the line through both its ends, mm.

    Parameters
    ----------
    edge_mm
        Points on the edge, shape (N, 2), N >= 2, x strictly rising.
    """
    if len(edge_mm) < 2:
        raise ValueError(f"an edge needs two points or more, got {len(edge_mm)}")
    from_first = edge_mm - edge_mm[0]
    chord = from_first[-1] / np.linalg.norm(from_first[-1])
    # A cross product with a unit vector is the distance from its line.
    across = chord[0] * from_first[:, 1] - chord[1] * from_first[:, 0]
    return float(np.abs(across).max())


def sagitta_mm(chord_mm: float, radius_mm: float) -> float:
    """Return the height of an arc over its chord (R - sqrt(R^2 - c^2/4))."""
    if radius_mm < chord_mm / 2:
        raise ValueError(f"a chord of {chord_mm} does not fit a circle of radius {radius_mm}")
    return radius_mm - math.sqrt(radius_mm**2 - chord_mm**2 / 4)


def radius_mm(chord_mm: float, sagitta: float) -> float:
    """Return the radius of the arc with this chord and sagitta."""
    if sagitta <= 0:
        raise ValueError(f"a sagitta must be positive, got {sagitta}")
    return (chord_mm**2 / 4 + sagitta**2) / (2 * sagitta)


def bend_of_piece_mm(bend: float, whole_mm: float, piece_mm: float) -> float:
    """Return bow, crook or cup of a piece cut from a longer (wider) one of constant curvature."""
    if bend == 0:
        return 0.0
    return math.copysign(sagitta_mm(piece_mm, radius_mm(whole_mm, abs(bend))), bend)


def twist_of_piece_mm(
    twist: float, board_mm: tuple[float, float], piece_mm: tuple[float, float]
) -> float:
    """Return the height of a piece's fourth corner: linear in its length and its width."""
    return twist * (piece_mm[0] / board_mm[0]) * (piece_mm[1] / board_mm[1])
