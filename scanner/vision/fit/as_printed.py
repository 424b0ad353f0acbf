"""Whether a strip is as it was printed and glued: joints that slipped, squares of another sheet.

A joint is trusted to a third of a millimetre. One that is off by millimetres shares its error out
among its neighbours, the scale and the tilt, of which U knows nothing; so it is left free and told.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scanner.vision.evidence.observations import Observations
    from scanner.vision.fit.least_squares import Solution

# A joint that is off by so many sd slipped (geometry of the fit: 4).
_SLIPPED_SD = 4.0
# More joints than this did not slip: the strip itself is bent, and other refusals say so.
_MOST_LOOSE = 3
# No ink, blur or light makes a square so much larger or smaller at each side than its distance from
# the next one says (four sd of what is expected); squares of two other sheets were 2 and 3 mm off.
_ODD_SQUARE_MM = 1.6


def loosened(solution: Solution, observations: Observations) -> Observations | None:
    """Return observations with the worst slipped joint left free, or None where none slipped.

    One at a time: the worst pulls at its neighbours.

    Parameters
    ----------
    solution
        Of these observations.
    observations
        With all their marks: what did not fit while the joint was held may fit now, and what still
        does not must count as left out.
    """
    if sum(len(reference.loose) for reference in observations.references) >= _MOST_LOOSE:
        return None
    worst, where = _SLIPPED_SD, None
    for index, reference in enumerate(observations.references):
        block = solution.model.blocks.get(f"joints {index}")
        if block is None:
            continue
        off = np.abs(solution.state.values[block.slice])
        off[list(reference.loose)] = 0.0
        if off.max() > worst:
            worst, where = float(off.max()), (index, int(off.argmax()))
    if where is None:
        return None
    references = list(observations.references)
    index, joint = where
    references[index] = replace(references[index], loose=(*references[index].loose, joint))
    return replace(observations, references=tuple(references))


def each_loosened(observations: Observations) -> Iterator[Observations]:
    """Yield observations with one joint of a reference left free, each once.

    Where the last joint is off by far its whole piece is left out as strays, and no joint pulls.
    """
    for index, reference in enumerate(observations.references):
        for joint in range(reference.joints if reference.is_printed else 0):
            references = list(observations.references)
            references[index] = replace(reference, loose=(joint,))
            yield replace(observations, references=tuple(references))


def doubts_of_joints(solution: Solution) -> tuple[str, ...]:
    """Return a sentence for each joint that slipped: one may have been left free for another's."""
    out = []
    for index, reference in enumerate(solution.model.observations.references):
        for joint in reference.loose:
            off = float(solution.model.value(solution.state, f"joints {index}")[joint])
            if abs(off) < _SLIPPED_SD * reference.sd_joint:
                continue
            out.append(
                f"joint {joint + 1} of {reference.name} is {abs(off):.1f} mm too "
                f"{'wide' if off > 0 else 'narrow'}, so that all beyond it is placed by the photo "
                "alone: glue it anew, edge to line"
            )
    return tuple(out)


def refuse_odd_squares(solution: Solution, where: str) -> None:
    """Raise ``PhotoError`` where squares are too large or small for how far apart they lie.

    Parameters
    ----------
    where
        Names of the photos.
    """
    if "print" not in solution.model.blocks:
        return
    # What the codes' own inner edges tell of ink and light is theirs.
    told = solution.model.observations.bleed_mm[0]
    off = float(solution.model.value(solution.state, "print")[2]) - told
    if abs(off) > _ODD_SQUARE_MM:
        size = "large" if off > 0 else "small"
        raise PhotoError(
            f"The squares in {where} are too {size} for how far apart they lie: they are not those "
            "of the coded strip",
            "lay the printed strip beside the board (bothfaces strip makes it), and no other sheet "
            "of such squares in view",
        )
