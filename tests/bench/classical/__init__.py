"""Knots and checks found without learning: the other way, kept to be measured against.

Spots and lines that stand out from the board's own clear wood, judged by fitted weights
(``fit_flaws``). On real softwood and on rendered faces the learned finder was better on the same
split (``scanner/vision/weights/flaws.md``), so the program uses that one.
"""

from shapely.geometry import Polygon

from scanner.board.flaw import Flaw
from scanner.vision.flaws.bark_pocket import find_bark_pockets
from scanner.vision.flaws.hole import find_holes
from scanner.vision.flaws.judge import judge_spots
from scanner.vision.flaws.surface import prepare
from scanner.vision.photos.picture import FacePicture
from tests.bench.classical.check import find_checks
from tests.bench.classical.knot import find_knots

FINDERS = (
    ("knots", find_knots),
    ("holes", find_holes),
    ("bark pockets", find_bark_pockets),
    ("checks", find_checks),
)


def find_classical(face: FacePicture, outline: Polygon) -> tuple[Flaw, ...]:
    """Return the possible flaws on one flat face, in order along it."""
    surface = prepare(face, outline)
    spots = judge_spots(surface, ())
    found = [flaw for _, finder in FINDERS for flaw in finder(surface, spots)]
    return tuple(sorted(found, key=lambda flaw: flaw.outlines[1].bounds[:2]))
