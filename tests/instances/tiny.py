"""Cutting problems small enough to solve by hand, each with its drawing.

Kerf 4 mm, no allowances, no trims, no margins, unless said. All sizes in mm. The best answer and
why no better one exists stand beside each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely.geometry import Polygon, box

from scanner.board.board import Board, End, Face
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop

SHOP = Shop(
    kerf_mm=4.0,
    sawing_tolerance_mm=0.0,
    end_trim_seen_mm=0.0,
    end_trim_unseen_mm=0.0,
    length_allowance_mm=0.0,
    width_allowance_mm=0.0,
    cleanup_mm=0.0,
)


@dataclass(frozen=True, slots=True)
class Instance:
    """A problem with its best answer: value placed (mm2) and boards opened."""

    name: str
    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    value: float
    boards_opened: int
    placed: int


def board(
    id: str, length: float, width: float, *flaws: Flaw, outline: Polygon | None = None
) -> Board:
    """Return a board known without error, looked over."""
    face = Face(outline=outline or box(0, 0, length, width), looked_over=True)
    return Board(
        id=id,
        species="white ash",
        thickness=Measured(27.0, 0.0),
        length=Measured(length, 0.0),
        widths=(),
        faces={1: face, 2: face},
        flaws=flaws,
        ends={"A": End(True), "B": End(True)},
        outline_u_mm=0.0,
    )


def flaw(
    id: str,
    kind: FlawKind,
    shape: Polygon,
    faces: tuple[int, ...] = (1,),
    sound: bool | None = None,
    is_through: bool = False,
    state: FlawState = FlawState.CONFIRMED,
) -> Flaw:
    """Return a flaw known without error."""
    outlines = dict.fromkeys(faces, shape)
    return Flaw(id, kind, outlines, sound, is_through, state=state, u_mm=0.0)


def part(name: str, copies: int, length: float, width: float, faces: str = "both") -> Part:
    """Return a part 20 mm thick."""
    return Part(name, copies, length, width, 20.0, Faces(faces))


# One board, one kind of part: 3 lengths of 300 and 2 kerfs are 908, 2 widths of 60 and a kerf 124.
#
#      0        300 304      604 608      908  920
#    0 +-----------+-----------+-----------+---+
#      |     a     |     a     |     a     |   |
#   60 +-----------+-----------+-----------+   |
#   64 +-----------+-----------+-----------+   |
#      |     a     |     a     |     a     |   |
#  124 +-----------+-----------+-----------+   |
#  130 +---------------------------------------+
#
# A seventh would need 4 along (1212 > 920) or 3 across (188 > 130).
SIX = Instance(
    "six of a kind",
    (board("B1", 920, 130),),
    (part("a", 9, 300, 60),),
    SHOP,
    6 * 300 * 60.0,
    1,
    6,
)

# A knot in the middle: 400 clear to its left, 496 to its right; the long part must go right.
#
#      0            400 ####504                  1000
#    0 +------------+  .####.  +-------------------+
#      |   short    |  .####.  |       long        |
#   80 +------------+  .####.  +-------------------+
#  100 +-------------------------------------------+
#
# long 490 does not fit left of 400; short 390 fits on both sides; both together are the most.
ROUND_THE_KNOT = Instance(
    "round the knot",
    (board("B1", 1000, 100, flaw("F1", FlawKind.KNOT, box(400, 10, 504, 70))),),
    (part("long", 2, 490, 80), part("short", 2, 390, 80)),
    SHOP,
    490 * 80.0 + 390 * 80.0,
    1,
    2,
)

# Kerf counts: 2 x 500 and one kerf are 1004, so a board of 1003 gives one, of 1004 two.
ONE_KERF_SHORT = Instance(
    "one kerf short",
    (board("B1", 1003, 50),),
    (part("a", 2, 500, 50),),
    SHOP,
    500 * 50.0,
    1,
    1,
)
ONE_KERF_ENOUGH = replace(
    ONE_KERF_SHORT,
    name="one kerf enough",
    boards=(board("B1", 1004, 50),),
    value=2 * 500 * 50.0,
    placed=2,
)

# Three stages: crosscut, rip, crosscut. The pinwheel fits 204 x 204 only with a cut that no
# straight line through the board can begin, so one part of it must stay out.
#
#      0         120 124    204
#    0 +------------+---------+        a: 120 x 80 twice, b: 80 x 120 twice
#      |     a      |         |        a + kerf + b = 120 + 4 + 80 = 204 both ways.
#   80 +------------+    b    |        Every cut across the board would go through a part.
#   84 +--------+   |         |        Three of the four fit: b left, then a over a
#      |        |...+---------+        (80 + 4 + 120 = 204 along, 80 + 4 + 80 across).
#      |   b    |      a      |
#  204 +--------+-------------+
PINWHEEL = Instance(
    "pinwheel",
    (board("B1", 204, 204),),
    (part("a", 2, 120, 80), part("b", 2, 80, 120)),
    SHOP,
    3 * 120 * 80.0,
    1,
    3,
)

# The same parts fit one board of 1000 or two of 600: one board has less area.
ONE_BOARD_WILL_DO = Instance(
    "one board will do",
    (board("B1", 600, 100), board("B2", 1000, 100), board("B3", 600, 100)),
    (part("a", 2, 490, 100),),
    SHOP,
    2 * 490 * 100.0,
    1,
    2,
)

# A knot on face 1 only: it may lie on the back of a part that shows one face, if it is sound.
#
#   face 1: knot at 100-130        face 2: clear
#   show -> laid over it with face 2 showing; both -> only right of it (370 < 480): none.
ONE_FACE_KNOT = Instance(
    "one-face knot",
    (board("B1", 500, 60, flaw("F1", FlawKind.KNOT, box(100, 10, 130, 50), sound=True)),),
    (part("front", 1, 480, 60, "show"), part("rail", 1, 480, 60, "both")),
    SHOP,
    480 * 60.0,
    1,
    1,
)

# Wane 8 mm deep on one edge: a hidden part may carry it, a sound one may not.
#
#    0 +================= wane 8 =================+
#      | hidden 500 x 60 lies on it               |
#   60 +------------------------------------------+
WANE_UNDER_A_HIDDEN_PART = Instance(
    "wane under a hidden part",
    (board("B1", 500, 60, flaw("F1", FlawKind.WANE, box(0, 0, 500, 8), faces=(2,))),),
    (part("cleat", 1, 500, 60, "hidden"), part("slat", 1, 500, 60, "sound")),
    SHOP,
    500 * 60.0,
    1,
    1,
)

# Two doors of one set, and a shelf that is worth more than both: the set comes first.
#
#   B1, B2 600 x 64: one door each      B3 600 x 130
#    0 +----------------+                 0 +----------------+
#      |                |                   |     door 1     |
#   64 +----------------+                60 +----------------+
#                                        64 +----------------+
#                                           |     door 2     |
#                                       124 +----------------+
#                                       130 +----------------+
#
# Without the set the doors lie on B1 and B2 and the shelf 590 x 126 on B3.
TWO_DOORS = Instance(
    "two doors from one board",
    (board("B1", 600, 64), board("B2", 600, 64), board("B3", 600, 130)),
    (
        replace(part("door", 2, 590, 60), match="doors"),
        part("shelf", 1, 590, 126),
    ),
    SHOP,
    2 * 590 * 60.0,
    1,
    2,
)

# Fronts in order along the grain: 3 x 300 and 2 kerfs are 908. B1 is wide enough for all three side
# by side, but only 700 long; B2 is long enough.
#
#   B2  0        300 304      604 608      908 920
#       +-----------+-----------+-----------+---+
#       |     1     |     2     |     3     |   |
#    60 +-----------+-----------+-----------+---+
FRONTS_IN_ORDER = Instance(
    "fronts in order along the grain",
    (board("B1", 700, 200), board("B2", 920, 60)),
    (replace(part("front", 3, 300, 60), match="fronts:in_order"),),
    SHOP,
    3 * 300 * 60.0,
    1,
    3,
)

# All or none: no board, and no two alike ones, hold three doors, so none is cut; the small part is
# placed. (Two of three would fit B1; B2 is of another thickness.)
THREE_OR_NONE = Instance(
    "three or none",
    (
        board("B1", 600, 130),
        replace(board("B2", 600, 130), thickness=Measured(40.0, 0.0)),
    ),
    (replace(part("door", 3, 590, 60), match="doors"), part("cleat", 1, 100, 30)),
    SHOP,
    100 * 30.0,
    1,
    1,
)

# No board holds four, two alike boards hold two each: the stated fallback.
FOUR_ON_TWO_ALIKE = Instance(
    "four on two alike boards",
    (board("B1", 600, 130), board("B2", 600, 130), board("B3", 600, 64)),
    (replace(part("door", 4, 590, 60), match="doors"),),
    SHOP,
    4 * 590 * 60.0,
    2,
    4,
)

# Wild grain in the middle of the width: a sound part may cross it, for only its arrises must keep
# clear of it; one that asks for straight grain may not.
#
#      0              440 450 ~~~~ 550 556               996 1000
#    0 +----------------+                +-----------------+
#      |      foot      |     ~~~~       |      foot       |
#  100 +----------------+                +-----------------+
#
# leg 900 finds at most 450 of straight grain.
STRAIGHT_GRAIN = Instance(
    "straight grain",
    (board("B1", 1000, 100, flaw("F1", FlawKind.WILD_GRAIN, box(450, 40, 550, 60))),),
    (
        replace(part("leg", 1, 900, 100, "sound"), straight_grain="1 in 15"),
        replace(part("foot", 2, 440, 100, "sound"), straight_grain="1 in 15"),
    ),
    SHOP,
    2 * 440 * 100.0,
    1,
    2,
)

# Sizes that may give: three slats of 300 and two kerfs need 908, the board has 896. At 296 and
# less (3 x 296 + 8 = 896) all three find a place; what each counts stays that of the size wanted.
#
#      0         296 300       596 600       896
#    0 +-----------+-------------+-------------+
#      |   slat    |    slat     |    slat     |
#   60 +-----------+-------------+-------------+
SLATS_THAT_GIVE = Instance(
    "slats that give",
    (board("B1", 896, 60),),
    (replace(part("slat", 3, 300, 60), length_min_mm=280.0),),
    SHOP,
    3 * 300 * 60.0,
    1,
    3,
)

# A size gives only where that gains something: two slats are all that is wanted, and they fit.
SLATS_THAT_NEED_NOT = replace(
    SLATS_THAT_GIVE,
    name="slats that need not give",
    parts=(replace(part("slat", 2, 300, 60), length_min_mm=280.0),),
    value=2 * 300 * 60.0,
    placed=2,
)

# Parts of one width share a strip: 60 and 40 fill it. A long part alone fills it less well, though
# it is worth more than either (95 against 60 and 40).
#
#      0              60         100
#    0 +---------------+----------+
#      |     rail      |   stub   |
#   50 +---------------+----------+
#      |     rail      |   stub   |
#  100 +---------------+----------+
SHARED_STRIP = Instance(
    "two parts share a strip",
    (board("B1", 100, 100),),
    (part("rail", 2, 60, 50), part("stub", 2, 40, 50), part("long", 2, 95, 50)),
    replace(SHOP, kerf_mm=0.0),
    100 * 100.0,
    1,
    4,
)

# The pins are dear, but there are three: a stack of fourteen of them is not to be had.
#
#      0                    66    73
#    0 +--------------------+----+
#      |       panel        | pin|  three pins and the lath: 7 + 7 + 7 + 76 = 97
#   36 +--------------------+----+
#      |       panel        |lath|  36 + 36 + 28 = 100
#   72 +--------------------+    |
#      |       shelf 62     |    |
#  100 +--------------------+----+
THREE_PINS = Instance(
    "three dear pins",
    (board("B1", 73, 100),),
    (
        replace(part("pin", 3, 6, 7), priority=40.0),
        part("panel", 2, 66, 36),
        part("shelf", 1, 62, 28),
        part("lath", 1, 7, 76),
    ),
    replace(SHOP, kerf_mm=0.0),
    3 * 42.0 + 2 * 66 * 36.0 + 62 * 28.0 + 7 * 76.0,
    1,
    7,
)

TINY = (
    SIX,
    ROUND_THE_KNOT,
    ONE_KERF_SHORT,
    ONE_KERF_ENOUGH,
    PINWHEEL,
    ONE_BOARD_WILL_DO,
    ONE_FACE_KNOT,
    WANE_UNDER_A_HIDDEN_PART,
    TWO_DOORS,
    FRONTS_IN_ORDER,
    THREE_OR_NONE,
    FOUR_ON_TWO_ALIKE,
    STRAIGHT_GRAIN,
    SLATS_THAT_GIVE,
    SLATS_THAT_NEED_NOT,
    SHARED_STRIP,
    THREE_PINS,
)
