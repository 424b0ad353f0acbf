"""The learned finder and the drawn-up ones for holes and bark pockets, as one list of candidates.

On rendered faces the learned network sees knots and checks better, but names holes knots: where the
finder of holes (or bark pockets) sees one on the same wood, the network's outline takes its name.
Small spots are judged by both together and by how they stand out from the face's own specks, and
drawn by the picture itself (`small_outline`).
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace

import numpy as np
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.geometry.polygons import iou
from scanner.vision.flaws.bark_pocket import find_bark_pockets
from scanner.vision.flaws.hole import find_holes
from scanner.vision.flaws.judge import JudgedSpot
from scanner.vision.flaws.learned import LEAST_SPOT_SCORE, find_learned
from scanner.vision.flaws.learned_odds import UNSEEN_BY_FINDER, UNSEEN_BY_NETWORK, small_odds
from scanner.vision.flaws.own_texture import OwnTexture, own_texture
from scanner.vision.flaws.small_outline import redrawn
from scanner.vision.flaws.surface import Surface

# What the network does not see must look like a hole or a bark pocket more surely: on 32 rendered
# faces all six candidates below this were false, all twelve above it right.
_LEAST_SCORE_ALONE = 0.45
# Outlines of one spot by two finders overlap at least so much, or one holds the other's middle.
_SAME_SPOT_IOU = 0.2
# Under this size across specks of the wood look like holes and pin knots, and are judged again.
_SMALL_MM = 9.0
_LEAST_SMALL_SCORE = 0.3
# Insects seldom bore one hole (common practice, no source): where one of worm size is seen plainly
# a fainter one is likely another. Of 75 worm holes on 12 flat rendered faces (seeds 5230-5352) 33
# instead of 25 are told so, with no false one. The name says nothing at that size: of 55 worm holes
# seen on 49 such faces 36 are called knots.
_WORM_MM, _PLAIN_SCORE, _LEAST_IN_COMPANY = 3.5, 0.6, 0.13
_CRACKS = (FlawKind.CHECK, FlawKind.SPLIT)
# The network's faintest spot that is worth judging again.
_FAINTEST = 0.12


def find_together(surface: Surface, spots: tuple[JudgedSpot, ...]) -> tuple[Flaw, ...]:
    """Return possible knots, holes, bark pockets and checks of a face (for ``FINDERS``)."""
    told: list[Flaw] = []
    small: list[Flaw] = []
    with ThreadPoolExecutor(1) as beside:
        texture = _Asked(surface, beside)
        for flaw, network in candidates(surface, spots, texture.ask_for):
            if flaw.kind in _CRACKS:
                told.append(flaw)
                continue
            if is_small(flaw):
                measures = measure_small(flaw, network, spots, texture.answer())
                odds = float(small_odds(np.array([measures]))[0])
                small.append(replace(flaw, score=round(odds, 3)))
                continue
            is_seen = network is not None and network >= LEAST_SPOT_SCORE
            least = LEAST_SPOT_SCORE if is_seen else _LEAST_SCORE_ALONE
            if (flaw.score or 0.0) >= least:
                told.append(flaw)
    return (*told, *(redrawn(flaw, surface) for flaw in worth_telling(small)))


def worth_telling(small: Sequence[Flaw]) -> list[Flaw]:
    """Return which of a face's small spots are told; those of worm size by their company, too."""
    company = any(_is_worm_size(flaw) and (flaw.score or 0.0) >= _PLAIN_SCORE for flaw in small)
    return [
        flaw
        for flaw in small
        if (flaw.score or 0.0)
        >= (_LEAST_IN_COMPANY if company and _is_worm_size(flaw) else _LEAST_SMALL_SCORE)
    ]


class _Asked:
    """A face's own texture, only where it is asked for: checks are told meanwhile, on one core."""

    def __init__(self, surface: Surface, beside: ThreadPoolExecutor) -> None:
        self._surface = surface
        self._beside = beside
        self._coming: Future[OwnTexture] | None = None

    def ask_for(self, spots: list[Flaw]) -> None:
        """Begin where one of the spots is small."""
        if any(is_small(flaw) for flaw in spots):
            self._asked()

    def answer(self) -> OwnTexture:
        """Return the texture, as soon as it stands."""
        return self._asked().result()

    def _asked(self) -> Future[OwnTexture]:
        if self._coming is None:
            self._coming = self._beside.submit(own_texture, self._surface)
        return self._coming


def candidates(
    surface: Surface,
    spots: tuple[JudgedSpot, ...],
    spots_stand: Callable[[list[Flaw]], None] | None = None,
) -> list[tuple[Flaw, float | None]]:
    """Return all that either finder sees, each with the network's score of it (None: unseen).

    Of two on the same wood the outline is the network's, unless it hardly sees a large one there,
    and the name that of the finder of holes and bark pockets. ``spots_stand``: as `find_learned`'s.
    """
    found = find_learned(surface, _FAINTEST, spots_stand)
    named = [*find_holes(surface, spots), *find_bark_pockets(surface, spots)]
    seen: list[tuple[Flaw, float | None]] = []
    for flaw in found:
        network = flaw.score or 0.0
        name = next((other for other in named if _is_same_spot(flaw, other)), None)
        if name is not None:
            flaw = replace(flaw, kind=name.kind, sound=None, reason=name.reason)
            if not is_small(flaw) and network < LEAST_SPOT_SCORE:
                flaw = name
        seen.append((flaw, network))
    alone = [flaw for flaw in named if not any(_is_same_spot(other, flaw) for other in found)]
    return [*seen, *((flaw, None) for flaw in alone)]


def is_small(flaw: Flaw) -> bool:
    """Return whether a spot is as small as specks of wood; bark pockets are long, not small."""
    return flaw.kind is not FlawKind.BARK_POCKET and _size_mm(flaw) < _SMALL_MM


def _is_worm_size(flaw: Flaw) -> bool:
    return _size_mm(flaw) < _WORM_MM


def _size_mm(flaw: Flaw) -> float:
    return float(2 * np.sqrt(flaw.outlines[1].area / np.pi))


def measure_small(
    flaw: Flaw, network: float | None, spots: tuple[JudgedSpot, ...], texture: OwnTexture
) -> list[float]:
    """Return what the score of a small spot is formed from, in the order of `SMALL_MEASURES`."""
    outline = flaw.outlines[1]
    judged = [spot.score for spot in spots if _is_one_spot(outline, spot.outline)]
    return [
        UNSEEN_BY_NETWORK if network is None else _log_odds(network),
        _log_odds(max(judged)) if judged else UNSEEN_BY_FINDER,
        *texture.measure(outline),
    ]


def _log_odds(score: float) -> float:
    held = min(max(score, 1e-3), 1 - 1e-3)
    return float(np.log(held / (1 - held)))


def _is_same_spot(learned: Flaw, named: Flaw) -> bool:
    return learned.kind not in _CRACKS and _is_one_spot(learned.outlines[1], named.outlines[1])


def _is_one_spot(a: Polygon, b: Polygon) -> bool:
    if not a.intersects(b):
        return False
    return bool(iou(a, b) >= _SAME_SPOT_IOU or a.contains(b.centroid) or b.contains(a.centroid))
