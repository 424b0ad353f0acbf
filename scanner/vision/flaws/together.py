"""The learned finder and the drawn-up ones for holes and bark pockets, as one list of candidates.

On rendered faces the learned network sees knots and checks better, but names holes knots: where the
finder of holes (or bark pockets) sees one on the same wood, the network's outline takes its name.
Whether a knot is sound is left to the person with the board: of rendered loose knots the network
calls two in five sound.
"""

from dataclasses import replace

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.polygons import iou
from scanner.vision.flaws.bark_pocket import find_bark_pockets
from scanner.vision.flaws.hole import find_holes
from scanner.vision.flaws.judge import JudgedSpot
from scanner.vision.flaws.learned import find_learned
from scanner.vision.flaws.surface import Surface

# What the network does not see must look like a hole or a bark pocket more surely: on 32 rendered
# faces all six candidates below this were false, all twelve above it right.
_LEAST_SCORE_ALONE = 0.45
# Outlines of one spot by two finders overlap at least so much, or one holds the other's middle.
_SAME_SPOT_IOU = 0.2


def find_together(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return possible knots, holes, bark pockets and checks of a face (for ``FINDERS``)."""
    found = [_unsure_of_sound(flaw) for flaw in find_learned(surface)]
    for named in (*find_holes(surface, spots), *find_bark_pockets(surface, spots)):
        at = next((n for n, flaw in enumerate(found) if _is_same_spot(flaw, named)), None)
        if at is None:
            if (named.score or 0.0) >= _LEAST_SCORE_ALONE:
                found.append(named)
        else:
            found[at] = replace(found[at], kind=named.kind, sound=None, reason=named.reason)
    return tuple(found)


def _unsure_of_sound(flaw: Flaw) -> Flaw:
    return replace(flaw, sound=None) if flaw.sound else flaw


def _is_same_spot(learned: Flaw, named: Flaw) -> bool:
    if learned.kind in (FlawKind.CHECK, FlawKind.SPLIT):
        return False
    a, b = learned.outlines[1], named.outlines[1]
    return bool(iou(a, b) >= _SAME_SPOT_IOU or a.contains(b.centroid) or b.contains(a.centroid))
