"""Finders of possible flaws, listed in a plain tuple.

Found on a scanned face: knots, holes, bark pockets, checks (splits and shakes are told as checks),
wild grain, the user's own marks; wane comes with the outline. Rot, pith, stain and pitch have no
finder there: only the user marks them. A flat picture (`learned.find_on_flat`) has pitch and pith
too, as on the softwood that they were learned on.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from scanner.board.flaw import Flaw
from scanner.vision.flaws.judge import JudgedSpot, judge_spots
from scanner.vision.flaws.learned import shares_of
from scanner.vision.flaws.marked import find_marks, without_own_rims, without_strokes
from scanner.vision.flaws.sapwood import find_sapwood
from scanner.vision.flaws.surface import Surface, prepare
from scanner.vision.flaws.together import find_together
from scanner.vision.flaws.wild_grain import find_wild_grain
from scanner.vision.photos.picture import FacePicture

Finder = Callable[[Surface, tuple[JudgedSpot, ...]], tuple[Flaw, ...]]

# The network is at work beside the others, so what waits for it comes last.
FINDERS: tuple[tuple[str, Finder], ...] = (
    ("wild grain", find_wild_grain),
    ("your marks", find_marks),
    ("knots, holes and checks", find_together),
)


@dataclass(frozen=True, slots=True)
class SeenWood:
    """What is seen of one face's wood: possible flaws, and where sapwood shows (face mm)."""

    flaws: tuple[Flaw, ...]
    sapwood: tuple[Polygon, ...]


def find_flaws(
    face: FacePicture, outline: Polygon, wane: tuple[Polygon, ...] = ()
) -> tuple[Flaw, ...]:
    """Return the possible flaws on one face, as `see_wood` finds them."""
    return see_wood(face, outline, wane).flaws


def see_wood(
    face: FacePicture,
    outline: Polygon,
    wane: tuple[Polygon, ...] = (),
    progress: Callable[[str, float], None] | None = None,
    raked: FacePicture | None = None,
) -> SeenWood:
    """Return the possible flaws on one face, in order along it, and its sapwood.

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
    raked
        The face under a low lamp, pixel by pixel over ``face``: a second look for checks.

    Returns
    -------
    SeenWood
        Outlines of flaws keyed by 1 in face mm, ids F1, F2 ... along x, all of state ``possible``.
    """
    say = progress or (lambda step, share: None)
    say("looking at the wood", 0.0)
    # Half the time is the network's, and a network's layers leave a second core idle in between.
    with ThreadPoolExecutor(1) as beside:
        surface = prepare(
            face, outline, lambda lab, wood: beside.submit(shares_of, lab, wood).result
        )
        if raked is not None:
            surface = replace(surface, raked=prepare(raked, outline))
        spots = judge_spots(surface, wane)
        sapwood = find_sapwood(surface)
        found: list[Flaw] = []
        for number, (name, finder) in enumerate(FINDERS, start=1):
            say(f"looking for {name}", number / (len(FINDERS) + 1))
            found.extend(finder(surface, spots))
    found = list(without_own_rims(without_strokes(tuple(found), surface)))
    found.sort(key=lambda flaw: (flaw.outlines[1].bounds[0], flaw.outlines[1].bounds[1]))
    flaws = tuple(replace(flaw, id=f"F{n}") for n, flaw in enumerate(found, start=1))
    return SeenWood(flaws, sapwood)
