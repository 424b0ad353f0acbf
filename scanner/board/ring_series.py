"""`RingSeries`: the rings of a board one after the other, from the pith out.

The sequence of wide and narrow, dark and pale rings is what wood is dated by: all of a tree's wood
shares it (M. G. L. Baillie and J. R. Pilcher 1973, "A simple crossdating program for tree-ring
research").
"""

from __future__ import annotations

from dataclasses import dataclass

# From one value of a series to the next, outward.
STEP_MM = 0.5


@dataclass(frozen=True, slots=True)
class RingSeries:
    """Light across the rings of one face on one side of the pith, without gaps.

    Where a face shows no clear rings a series ends; another one may begin beyond.

    Attributes
    ----------
    face
        1 or 2, the face it was read on.
    from_pith_mm
        Distance of the first value from the pith, as the face's rings tell it.
    light
        A value every `STEP_MM`: light against its surroundings, negative dark, its strength evened
        out; within -2.5 and 2.5.
    """

    face: int
    from_pith_mm: float
    light: tuple[float, ...]

    @property
    def length_mm(self) -> float:
        """How far the series reaches across the rings."""
        return (len(self.light) - 1) * STEP_MM
