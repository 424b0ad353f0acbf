"""Named boards, parts, a hand-made layout and plain pictures that many tests share.

Everything is in the board frame, mm. The boards are made up, not measured: the ash board has ends
that are not square, a check at end A, a knot that comes through and wane that shows on face 2 only;
the walnut board was turned end over end and is looked over.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString, Polygon, box

from scanner.board.board import Board, End, Face, Station
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.placement.layout import (
    Bound,
    Cut,
    Layout,
    Offcut,
    Piece,
    Placement,
    Summary,
    Unplaced,
)
from scanner.placement.parts import Faces, Part, PartsList

if TYPE_CHECKING:
    from PIL import Image

STATIONS = (0.04, 0.27, 0.50, 0.73, 0.96)


def ellipse(x: float, y: float, across_x: float, across_y: float) -> Polygon:
    """Return an ellipse of 24 corners round (x, y) with these half axes."""
    angles = [2 * math.pi * k / 24 for k in range(24)]
    return Polygon([(x + across_x * math.cos(a), y + across_y * math.sin(a)) for a in angles])


def widths_of(outline: Polygon, length_mm: float, u_mm: float = 1.0) -> tuple[Station, ...]:
    """Return the five width stations of an outline that starts near x = 0."""
    x0, y0, _, y1 = outline.bounds
    stations = []
    for share in STATIONS:
        x = x0 + share * length_mm
        across = outline.intersection(LineString([(x, y0 - 1), (x, y1 + 1)]))
        stations.append(Station(round(x, 2), Measured(round(across.length, 2), u_mm)))
    return tuple(stations)


def plain_board(
    id: str = "P01",
    length_mm: float = 2438.4,
    width_mm: float = 203.2,
    thickness_mm: float = 26.99,
    species: str = "white ash",
    looked_over: bool = True,
) -> Board:
    """Return a clear square-edged board without photos (rule: given)."""
    outline = box(0.0, 0.0, length_mm, width_mm)
    face = Face(outline=outline, looked_over=looked_over)
    return Board(
        id=id,
        species=species,
        thickness=Measured(thickness_mm, 1.0),
        length=Measured(length_mm, 1.0),
        widths=widths_of(outline, length_mm),
        faces={1: face, 2: face},
        ends={"A": End(looked_over), "B": End(looked_over)},
    )


# fmt: off
ASH_FACE_1 = Polygon([
    (0, 0), (600, 2.5), (1200, 4.5), (1800, 6), (2462, 8),
    (2458, 178), (1800, 183), (1200, 186), (600, 187), (6, 186),
])
ASH_FACE_2 = Polygon([
    (1, 1), (600, 3), (1200, 5), (1800, 6), (2461, 8),
    (2458, 150), (2200, 158), (1950, 182), (1200, 185), (600, 186), (6, 185),
])
# fmt: on


def ash_flaws(state: FlawState = FlawState.POSSIBLE) -> tuple[Flaw, ...]:
    """Return the ash board's five flaws."""
    knot = ellipse(820, 110, 14, 12)
    return (
        Flaw("F1", FlawKind.KNOT, {1: knot, 2: ellipse(824, 108, 11, 10)}, None, True, None,
             state, 0.93, "dark round spot, grain turns round it", 1.1),
        Flaw("F2", FlawKind.CHECK,
             {1: Polygon([(1, 60), (140, 55), (141, 57), (1, 64)]),
              2: Polygon([(1, 60), (95, 57), (95, 59), (1, 63)])},
             None, False, 140.0, state, 0.71, "dark thin line from end A", 1.0),
        Flaw("F3", FlawKind.KNOT, {2: ellipse(1650, 30, 7, 7)}, None, False, None,
             state, 0.64, "dark round spot", 1.2),
        Flaw("F4", FlawKind.WANE,
             {2: Polygon([(1950, 182), (2200, 158), (2458, 150), (2458, 177), (1950, 182.5)])},
             None, False, None, state, 0.80, "bark along the edge", 2.0),
        Flaw("F5", FlawKind.STAIN, {1: ellipse(1700, 45, 30, 10)}, None, False, None,
             state, 0.52, "grey streak", 2.0),
    )  # fmt: skip


def ash_board(id: str = "B01", looked_over: bool = False) -> Board:
    """Return the white ash board: 8 ft, 4/4, ends not square, nobody looked it over."""
    faces = {
        1: Face(ASH_FACE_1, looked_over, ("ash-front.jpg",), f"{id}-face1.jpg", 1.0,
                (-20.0, -20.0), "strip", 0.0006),
        2: Face(ASH_FACE_2, looked_over, ("ash-back.jpg",), f"{id}-face2.jpg", 1.0,
                (-20.0, -20.0), "strip", 0.0006),
    }  # fmt: skip
    return Board(
        id=id,
        species="white ash",
        thickness=Measured(27.0, 1.0),
        length=Measured(2457.0, 2.4),
        widths=widths_of(ASH_FACE_1, 2457.0),
        faces=faces,
        flaws=ash_flaws(FlawState.CONFIRMED if looked_over else FlawState.POSSIBLE),
        ends={"A": End(looked_over), "B": End(looked_over)},
        warp=Warp(4.0, 1.5, 0.0, 6.2),
    )


def walnut_board(id: str = "B02", looked_over: bool = True) -> Board:
    """Return the walnut board: 5/4, sapwood along one edge, turned end over end, looked over."""
    outline = Polygon([(0, 0), (1904, 6), (1900, 242), (4, 236)])
    sap = Polygon([(0, 0), (1904, 6), (1904, 30), (0, 22)])
    face = Face(outline, looked_over, ("walnut-front.jpg",), f"{id}-face1.jpg", 1.0,
                (-20.0, -20.0), "plain", 0.004)  # fmt: skip
    back = Face(outline, looked_over, ("walnut-back.jpg",), f"{id}-face2.jpg", 1.0,
                (-20.0, -20.0), "plain", 0.004)  # fmt: skip
    flaws = (
        Flaw("F1", FlawKind.KNOT, {1: ellipse(1010, 150, 16, 14)}, True, False, None,
             FlawState.CONFIRMED, 0.95, "dark round spot, grain turns round it", 1.5),
        Flaw("F2", FlawKind.WILD_GRAIN, {1: ellipse(1010, 150, 60, 34)}, None, False, None,
             FlawState.CONFIRMED, 0.6, "grain turned round the knot", 4.0),
        Flaw("F3", FlawKind.STAIN, {2: ellipse(500, 90, 30, 12)}, None, False, None,
             FlawState.STRUCK, 0.4, "grey streak", 2.0),
        Flaw("F4", FlawKind.MARKED, {2: box(1780, 20, 1830, 200)}, None, True, None,
             FlawState.ADDED, None, None, 2.0),
    )  # fmt: skip
    return Board(
        id=id,
        species="walnut",
        thickness=Measured(33.0, 1.0),
        length=Measured(1900.0, 9.0),
        widths=widths_of(outline, 1900.0, 2.5),
        faces={1: face, 2: back},
        flaws=flaws,
        ends={"A": End(True, 15.0), "B": End(True)},
        outline_u_mm=2.5,
        turned="end_over_end",
        sapwood={1: (sap,), 2: ()},
        moisture=8.5,
        notes=("bought dry",),
    )


def bench_parts() -> PartsList:
    """Return parts of a white ash hall bench."""
    return (
        Part("rail", 2, 610.0, 70.0, 19.0, Faces.BOTH, species="white ash"),
        Part("seat slat", 2, 1000.0, 70.0, 19.0, Faces.SHOW, species="white ash", priority=2.0),
        Part("stretcher", 1, 675.0, 58.0, 19.0, Faces.SOUND, species="white ash"),
        Part("cleat", 1, 250.0, 40.0, 19.0, Faces.HIDDEN, species="white ash"),
    )


def shelf_parts() -> PartsList:
    """Return parts of a walnut wall shelf."""
    return (
        Part("shelf", 1, 800.0, 170.0, 25.0, Faces.BOTH, species="walnut"),
        Part("bracket", 2, 220.0, 95.0, 25.0, Faces.SHOW, species="walnut"),
    )


def small_layout() -> Layout:
    """Return a hand-made layout of bench and shelf parts on the ash and the walnut board."""
    placements = (
        Placement("rail", 1, "B01", 150.0, 8.0, 635.0, 82.0, margin_mm=2.6),
        Placement("rail", 2, "B01", 150.0, 96.0, 635.0, 82.0, margin_mm=2.6),
        Placement("seat slat", 1, "B01", 850.0, 90.0, 1025.0, 82.0, 0.0, 1, 2.7),
        Placement("stretcher", 1, "B01", 850.0, 12.0, 700.0, 70.0, margin_mm=2.7),
        Placement("cleat", 1, "B01", 1885.0, 14.0, 275.0, 52.0, margin_mm=2.8),
        Placement("shelf", 1, "B02", 30.0, 36.0, 825.0, 182.0, margin_mm=4.1),
        Placement("bracket", 1, "B02", 1120.0, 12.0, 245.0, 107.0, 0.0, 1, 4.1),
        Placement("bracket", 2, "B02", 1120.0, 123.0, 245.0, 107.0, 0.0, 2, 4.1),
    )
    pieces = (
        Piece("B01", "B01-1", 150.0, 785.0, (0, 1)),
        Piece("B01", "B01-2", 850.0, 1875.0, (2, 3)),
        Piece("B01", "B01-3", 1885.0, 2160.0, (4,)),
        Piece("B02", "B02-1", 30.0, 855.0, (5,)),
        Piece("B02", "B02-2", 1120.0, 1365.0, (6, 7)),
    )

    # A cut's place is the middle of its kerf: half a kerf before what starts, after what ends.
    half = 1.6
    walnut_width = 242.0

    def crosscuts(board: str, width: float, *pieces: tuple[float, float]) -> list[Cut]:
        lines = [x for start, stop in pieces for x in (start - half, stop + half)]
        return [Cut(board, n, "crosscut", (x, 0.0), (x, width)) for n, x in enumerate(lines, 1)]

    def rips(
        board: str, order: int, x0: float, x1: float, *strips: tuple[float, float]
    ) -> list[Cut]:
        lines = [y for far, near in strips for y in (far - half, near + half)]
        return [Cut(board, n, "rip", (x0, y), (x1, y)) for n, y in enumerate(lines, order)]

    cuts = (
        *crosscuts("B01", 187.0, (150.0, 785.0), (850.0, 1875.0), (1885.0, 2160.0)),
        *rips("B01", 7, 150.0, 785.0, (8.0, 90.0), (96.0, 178.0)),
        *rips("B01", 11, 850.0, 1875.0, (12.0, 82.0), (90.0, 172.0)),
        Cut("B01", 15, "final", (1550.0 + half, 12.0), (1550.0 + half, 82.0)),
        *rips("B01", 16, 1885.0, 2160.0, (14.0, 66.0)),
        *crosscuts("B02", walnut_width, (30.0, 855.0), (1120.0, 1365.0)),
        *rips("B02", 5, 30.0, 855.0, (36.0, 218.0)),
        *rips("B02", 7, 1120.0, 1365.0, (12.0, 119.0), (123.0, 230.0)),
    )
    finished = 2 * 610 * 70 + 1000 * 70 + 675 * 58 + 250 * 40 + 800 * 170 + 2 * 220 * 95
    value = finished + 1000 * 70  # the slat counts double
    most = 700_000.0
    opened = ASH_FACE_1.area + walnut_board().faces[1].outline.area
    return Layout(
        cut_class="three_stage_trimmed",
        kerf_mm=3.2,
        seed=1,
        work=0,
        placements=placements,
        pieces=pieces,
        cuts=cuts,
        unplaced=(
            Unplaced("seat slat", 1, "no place 1025 × 82 mm is left on white ash",
                     "B01 has 278 × 130 mm left, so a board 1.1 m long would do"),
        ),
        offcuts=(Offcut("B02", 1372.0, 12.0, 400.0, 220.0),),
        summary=Summary(8, 9, 2, opened, 11.25, round(finished / opened, 9)),
        bound=Bound("value", "three_stage_trimmed", most, round(1 - value / most, 9)),
        not_looked_over=("B01",),
    )  # fmt: skip


def flat_picture(board: Board, face: int, mm_per_px: float = 1.0) -> Image.Image:
    """Return a plain drawn flat picture of a face: wood on a grey floor, flaws as dark spots.

    The picture starts 20 mm before the board (``picture_origin`` of the named boards).
    """
    from PIL import Image, ImageDraw

    outline = board.faces[face].outline
    columns = math.ceil((outline.bounds[2] + 40) / mm_per_px)
    rows = math.ceil((outline.bounds[3] + 40) / mm_per_px)

    def px(shape: Polygon) -> list[tuple[float, float]]:
        return [((x + 20) / mm_per_px, (y + 20) / mm_per_px) for x, y in shape.exterior.coords]

    # A fixed seed: the same board always has the same picture.
    noise = np.random.default_rng(face).normal(0.0, 1.0, rows)
    streaks = np.convolve(noise, np.ones(5) / 5, mode="same")
    tone = (74, 52, 38) if board.species == "walnut" else (205, 178, 140)
    wood = np.clip(np.array(tone) + 14 * streaks[:, None], 0, 255).astype(np.uint8)
    grain = Image.fromarray(
        np.ascontiguousarray(np.broadcast_to(wood[:, None], (rows, columns, 3)))
    )
    picture = Image.new("RGB", (columns, rows), (120, 122, 124))
    mask = Image.new("L", (columns, rows), 0)
    ImageDraw.Draw(mask).polygon(px(outline), fill=255)
    picture.paste(grain, mask=mask)
    pen = ImageDraw.Draw(picture)
    for flaw in board.flaws_on(face):
        if flaw.kind not in (FlawKind.WILD_GRAIN, FlawKind.MARKED):
            pen.polygon(px(flaw.outlines[face]), fill=tuple(int(c * 0.45) for c in tone))
    return picture
