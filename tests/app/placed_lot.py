"""A board with a knot on face 2, and five parts of two names placed on it."""

from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.placement.layout import Placement

PARTS = """name,quantity,length,width,thickness,faces
front,3,400,60,19,show
leg,2,300,40,19,both
"""
KNOT = Flaw("F1", FlawKind.KNOT, {2: box(600, 30, 620, 45)}, state=FlawState.CONFIRMED)


def placed(part, copy, x, y, size, face=None):
    return Placement(part, copy, "P01", x, y, *size, show_face=face, margin_mm=2.0)


PLACED = (
    placed("front", 1, 60.0, 5.0, (425.0, 72.0), 1),
    placed("front", 2, 500.0, 5.0, (425.0, 72.0), 1),
    placed("front", 3, 940.0, 5.0, (425.0, 72.0), 1),
    placed("leg", 1, 60.0, 90.0, (325.0, 52.0)),
    placed("leg", 2, 400.0, 90.0, (325.0, 52.0)),
)
