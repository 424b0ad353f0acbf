"""`Layout`: placed parts, pieces, cuts in sawing order, offcuts, summary and bound."""

from dataclasses import dataclass
from typing import Literal

from scanner.placement.shop import CutClass

PlacementState = Literal["planned", "laid_out", "cut", "milled", "resting", "done", "spoiled"]
# A part in these states is still wood of its board, and may lie elsewhere.
STILL_WOOD: tuple[PlacementState, ...] = ("planned", "laid_out")
# A part in these is sawn out, and stays where it was; a spoiled one is in neither.
SAWN_OUT: tuple[PlacementState, ...] = ("cut", "milled", "resting", "done")


@dataclass(frozen=True, slots=True)
class Placement:
    """One part on one board: corner of smallest x and y before turning, rough size, mm.

    ``stave``: which one of its panel, counted from 1, where the part is glued up from several.
    ``layer``: which slice of its blank, counted from face 1, where the blank is resawn.
    ``nest``: number of the nest on its board, where curved parts are sawn from one blank, the
    rectangle round all of them; ``half_turn``: the shape lies end for end on its rectangle.
    """

    part: str
    copy: int
    board: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    angle_deg: float = 0.0
    show_face: int | None = None
    margin_mm: float = 0.0
    locked: bool = False
    state: PlacementState = "planned"
    stave: int | None = None
    layer: int | None = None
    nest: int | None = None
    half_turn: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """What a crosscut leaves, from x0 to x1, with the indices of its placements."""

    board: str
    id: str
    x0_mm: float
    x1_mm: float
    placements: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight cut; ``order`` counts from 1 on each board."""

    board: str
    order: int
    kind: Literal["crosscut", "rip", "final"]
    from_mm: tuple[float, float]
    to_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Copies of a part that found no place, why, and what came nearest."""

    part: str
    copies: int
    reason: str
    nearest: str


@dataclass(frozen=True, slots=True)
class Offcut:
    """A clear left-over worth keeping, mm."""

    board: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class Summary:
    """Totals of a layout; areas in mm2 (board's gross area = wood of face 1)."""

    placed: int
    asked: int
    boards_opened: int
    area_opened_mm2: float
    board_feet: float
    yield_share: float


@dataclass(frozen=True, slots=True)
class Bound:
    """What no layout of the class can beat, and the gap of this one to it (relative)."""

    of: Literal["value", "area"]
    cut_class: CutClass
    value: float
    gap: float


@dataclass(frozen=True, slots=True)
class Layout:
    """A finished layout."""

    cut_class: CutClass
    kerf_mm: float
    seed: int
    work: int
    placements: tuple[Placement, ...]
    pieces: tuple[Piece, ...]
    cuts: tuple[Cut, ...]
    unplaced: tuple[Unplaced, ...]
    offcuts: tuple[Offcut, ...]
    summary: Summary
    bound: Bound
    not_looked_over: tuple[str, ...] = ()
