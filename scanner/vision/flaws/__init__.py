"""Finders of possible flaws, one a kind, listed in a plain tuple."""

from collections.abc import Callable
from dataclasses import replace

from shapely.geometry import Polygon

from scanner.board.flaw import Flaw
from scanner.vision.flaws.knot import find_knots
from scanner.vision.flaws.surface import Surface, prepare
from scanner.vision.picture import FacePicture

Finder = Callable[[Surface], tuple[Flaw, ...]]

FINDERS: tuple[tuple[str, Finder], ...] = (("knots", find_knots),)


def find_flaws(
    face: FacePicture,
    outline: Polygon,
    wane: tuple[Polygon, ...] = (),
    progress: Callable[[str, float], None] | None = None,
) -> tuple[Flaw, ...]:
    """Return the possible flaws on one face, in order along it.

    Parameters
    ----------
    face
        The flat picture.
    outline
        The face to the arris, face mm.
    wane
        Wane beyond the arris, face mm (found by the outline tracer; not reported again).
    progress
        Called with the step's name and the share done, 0 to 1.

    Returns
    -------
    tuple of Flaw
        Outlines keyed by 1 in face mm, ids F1, F2 ... along x, all of state ``possible``.
    """
    surface = prepare(face, outline)
    found: list[Flaw] = []
    for number, (name, finder) in enumerate(FINDERS):
        if progress is not None:
            progress(f"looking for {name}", number / len(FINDERS))
        found.extend(finder(surface))
    found.sort(key=lambda flaw: (flaw.outlines[1].bounds[0], flaw.outlines[1].bounds[1]))
    return tuple(replace(flaw, id=f"F{n}") for n, flaw in enumerate(found, start=1))
