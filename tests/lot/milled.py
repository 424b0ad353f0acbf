"""Two rails, a panel and a stile on one board, laid out for milling."""

from scanner.placement.layout import Bound, Layout, Offcut, Placement, Summary
from scanner.placement.parts import Faces, Part
from tests.common import plain_board

PARTS = (
    Part("rail", 2, 400.0, 60.0, 20.0, Faces.BOTH),
    Part("panel", 1, 300.0, 120.0, 12.0, Faces.SHOW),
    Part("stile", 1, 500.0, 60.0, 20.0, Faces.BOTH),
)
# 26.99 mm thick, 3.2 mm of it clean-up.
BOARD = plain_board()
PLACED = (
    Placement("rail", 1, "P01", 60.0, 5.0, 425.0, 72.0),
    Placement("rail", 2, "P01", 60.0, 90.0, 425.0, 72.0),
    Placement("panel", 1, "P01", 500.0, 5.0, 325.0, 132.0, show_face=1),
    Placement("stile", 1, "P01", 900.0, 5.0, 525.0, 72.0),
)
OFFCUTS = (Offcut("P01", 1500, 5, 900, 190), Offcut("P01", 1000, 100, 400, 60))


def layout_of(placements=PLACED, offcuts=OFFCUTS):
    return Layout(
        "three_stage_trimmed", 3.2, 1, 0, placements, (), (), (), offcuts,
        Summary(4, 4, 1, 1.0, 1.0, 0.5), Bound("value", "any", 0, 0),
    )  # fmt: skip
