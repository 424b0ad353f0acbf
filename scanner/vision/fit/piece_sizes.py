"""Whether all pieces of a strip were printed at one size.

A piece of a page that was fitted to other paper has squares as much smaller as their distances, all
in one stretch, which no tilt or bend of the whole strip does. As it lies it shares its error out
among joints, scale and tilt; so it is given a size of its own, and told.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import linalg

from scanner.errors import PhotoError
from scanner.geometry.strip_layout import PIECES_PER_PAGE, joints_before
from scanner.vision.fit.model import Model, State
from scanner.vision.fit.residuals import Rows

if TYPE_CHECKING:
    from scanner.vision.evidence.observations import Observations, Reference
    from scanner.vision.fit.least_squares import Solution

# A piece that is seen larger or smaller by less spoils no length beyond its U; honest strips' came
# out at up to 0.7 % in made scenes, those of a strip that lies in waves of 3 mm at 2 %. Of a whole
# page, or beside a piece that is odd for sure, less is enough.
_LEAST_ODD, _LEAST_MORE = 0.02, 0.01
# ... and it must explain so much of what is left (chi2; honest made scenes: up to 10), and more
# than joints that slipped do.
LEAST_GAIN = 25.0
# No division by nothing where hardly a mark of a piece is seen.
_LEAST = 1e-12
# So many pages must say the same, or all but one piece of a short strip may be the odd ones; and
# more than say otherwise, or nobody knows which printing was the right one.
_FEWEST_PAGES = 2


class Odd(NamedTuple):
    """Pieces (0 is the first) of a reference (index) that may have a size of their own."""

    reference: int
    pieces: tuple[int, ...]
    gain: float


def likeliest_odd(solution: Solution) -> Odd | None:
    """Return the piece or page whose own size would explain most of what is left; or None.

    A score test (C. R. Rao, 1948) of each alone at the solution: no fit is made.
    """
    seen = solution.model.observations
    is_second = any(reference.odd for reference in seen.references)
    every = tuple(
        replace(reference, odd=tuple(range(reference.joints + 1)))
        if reference.is_printed and reference.joints
        else reference
        for reference in seen.references
    )
    if not any(reference.odd for reference in every):
        return None  # no strip
    model = Model(replace(seen, references=every))
    state = _as_in(solution, model)
    rows = Rows(model)
    rows.reweigh(state)
    rows.freeze_world(state)
    slopes, off = rows.jacobian(state), rows.residuals(state)
    starts = {
        index: model.blocks[f"sizes {index}"].start for index, one in enumerate(every) if one.odd
    }
    sizes = [starts[index] + piece for index in starts for piece in every[index].odd]
    known = np.setdiff1d(np.arange(model.size), sizes)
    # Unknowns of all kinds, in sd: their columns differ in size by powers of ten.
    columns = slopes[:, known] / np.maximum(np.linalg.norm(slopes[:, known], axis=0), _LEAST)
    normal = linalg.cho_factor(columns.T @ columns + _LEAST * np.eye(len(known)))
    best, its_size = Odd(0, (), 0.0), 0.0
    for index, start in starts.items():
        for pieces in _groups(seen.references[index]):
            column = slopes[:, [start + piece for piece in pieces]].sum(axis=1)
            left = column - columns @ linalg.cho_solve(normal, columns.T @ column)
            weight = max(float(left @ left), _LEAST)
            gain = float(left @ off) ** 2 / weight
            if gain > best.gain:
                best = Odd(index, pieces, gain)
                its_size = abs(float(left @ off) / weight * float(model.unit[start]))
    least = _LEAST_ODD if len(best.pieces) == 1 and not is_second else _LEAST_MORE
    return best if best.gain > LEAST_GAIN and its_size > least else None


def _groups(reference: Reference) -> list[tuple[int, ...]]:
    """Return the pieces, the pages of them and runs of pages, that have no size of their own yet.

    Runs from either end, as pages that were printed together are glued together; the rest of a
    strip is larger where they are smaller, so that the shorter one of both is asked about.
    """
    pieces = [piece for piece in range(reference.joints + 1) if piece not in reference.odd]
    on = {piece: piece // PIECES_PER_PAGE for piece in pieces}
    pages = sorted(set(on.values()))
    groups = {tuple(piece for piece in pieces if on[piece] == page) for page in pages}
    for page in pages[1:]:
        groups |= {
            tuple(piece for piece in pieces if on[piece] < page),
            tuple(piece for piece in pieces if on[piece] >= page),
        }
    few = len(pieces) / 2
    return [
        *((piece,) for piece in pieces),
        *sorted(one for one in groups if 1 < len(one) <= max(few, PIECES_PER_PAGE)),
    ]


def _as_in(solution: Solution, model: Model) -> State:
    """Return a solution's state in a model in which every piece has a size, new ones zero."""
    values = np.zeros(model.size)
    for name, block in solution.model.blocks.items():
        there = np.arange(model.size)[model.blocks[name].slice]
        if name.startswith("sizes"):
            there = there[[*solution.model.observations.references[int(name.split()[1])].odd]]
        values[there] = solution.state.values[block.slice]
    return State(values, solution.state.turns)


def with_own_size(observations: Observations, odd: Odd) -> Observations:
    """Return observations in which pieces have sizes of their own."""
    references = list(observations.references)
    one = references[odd.reference]
    references[odd.reference] = replace(one, odd=(*one.odd, *odd.pieces))
    return replace(observations, references=tuple(references))


def doubts_of_sizes(solution: Solution) -> tuple[str, ...]:
    """Return a sentence for each piece that is larger or smaller than the others."""
    return tuple(
        f"{words} (another print, or not flat?), so that it tells nothing of the scale: print its "
        "page again at 100 %, and glue it flat"
        for words in _in_words(solution)
    )


def refuse_many_sizes(solution: Solution, where: str) -> None:
    """Raise ``PhotoError`` where nobody can say which pieces of a strip have the right size.

    Parameters
    ----------
    where
        Names of the photos.
    """
    odd = _in_words(solution)
    if not odd:
        return
    agreeing, others = _pages_agreeing(solution)
    if agreeing >= max(_FEWEST_PAGES, others + 1) and likeliest_odd(solution) is None:
        return
    raise PhotoError(
        f"The pieces of the strip in {where} are not of one size ({odd[0]}), and which of them are "
        "right cannot be seen",
        "lay it flat; if this comes again, print all its pages anew at 100 % (not fit to page)",
    )


def _in_words(solution: Solution) -> list[str]:
    out = []
    for index, reference in enumerate(solution.model.observations.references):
        if not reference.odd:
            continue
        sizes = solution.model.value(solution.state, f"sizes {index}")
        for piece, larger in zip(reference.odd, sizes, strict=True):
            if abs(larger) < _LEAST_MORE:
                continue  # Its page has another size, it has not.
            way = "larger" if larger > 0 else "smaller"
            out.append(
                f"piece {piece + 1} of {reference.name} is seen {100 * abs(larger):.1f} % {way} "
                "than the others"
            )
    return out


def _pages_agreeing(solution: Solution) -> tuple[int, int]:
    """Return how many printed pages show marks on pieces of one size, and how many on others."""
    seen = solution.model.observations
    pages, every = set(), set()
    for marks in seen.marks:
        reference = seen.references[marks.reference]
        if reference.piece_mm is None:
            continue
        pieces = {int(piece) for piece in joints_before(marks.points_mm[:, 0], reference.piece_mm)}
        every |= {(marks.reference, piece // PIECES_PER_PAGE) for piece in pieces}
        pages |= {
            (marks.reference, piece // PIECES_PER_PAGE) for piece in pieces - {*reference.odd}
        }
    return len(pages), len(every - pages)
