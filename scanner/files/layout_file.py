"""``layout.json``: a layout in and out."""

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from scanner.errors import PlacementError
from scanner.files.board_rows import BoardId, NotNegative, Point, Positive
from scanner.files.json_text import json_text, rounded, significant
from scanner.files.rows import Row, read_json
from scanner.placement.layout import (
    Bound,
    Cut,
    Layout,
    Offcut,
    Piece,
    Placement,
    PlacementState,
    Summary,
    Unplaced,
)
from scanner.placement.shop import CutClass

Name = Annotated[str, Field(min_length=1)]
Count = Annotated[int, Field(ge=0)]
Ordinal = Annotated[int, Field(ge=1)]


class PlacementRow(Row):
    """One part on one board."""

    part: Name
    copy_: Ordinal = Field(alias="copy")
    board: BoardId
    x: float
    y: float
    length: Positive
    width: Positive
    angle: float
    show_face: Literal[1, 2] | None
    margin: NotNegative
    locked: bool
    state: PlacementState
    stave: Ordinal | None = None
    layer: Ordinal | None = None
    nest: Ordinal | None = None
    half_turn: bool = False


class PieceRow(Row):
    """What two crosscuts leave."""

    board: BoardId
    id: Name
    x0: float
    x1: float
    placements: list[Count]


class CutRow(Row):
    """One straight cut, along the middle of its kerf."""

    board: BoardId
    order: Ordinal
    kind: Literal["crosscut", "rip", "final"]
    from_: Point = Field(alias="from")
    to: Point


class UnplacedRow(Row):
    """Copies without a place."""

    part: Name
    copies: Ordinal
    reason: str
    nearest: str


class OffcutRow(Row):
    """A left-over worth keeping."""

    board: BoardId
    x: float
    y: float
    length: NotNegative
    width: NotNegative


class SummaryRow(Row):
    """Totals."""

    placed: Count
    asked: Count
    boards_opened: Count
    area_opened: NotNegative
    board_feet: NotNegative
    yield_share: Annotated[float, Field(ge=0, le=1)] = Field(alias="yield")


class BoundRow(Row):
    """What no layout of the class can beat."""

    of: Literal["value", "area"]
    cut_class: CutClass
    value: float
    gap: NotNegative


class LayoutRow(Row):
    """``layout.json``."""

    format: Literal["layout"]
    version: Literal[1]
    cut_class: CutClass
    kerf: NotNegative
    seed: int
    work: Count
    placements: list[PlacementRow]
    pieces: list[PieceRow]
    cuts: list[CutRow]
    unplaced: list[UnplacedRow]
    offcuts: list[OffcutRow]
    summary: SummaryRow
    bound: BoundRow
    not_looked_over: list[BoardId]

    @model_validator(mode="after")
    def _pieces_name_real_placements(self) -> "LayoutRow":
        for piece in self.pieces:
            for index in piece.placements:
                if index >= len(self.placements):
                    raise ValueError(
                        f"piece {piece.id} names placement {index}, "
                        f"but there are only {len(self.placements)} (counted from 0)"
                    )
        return self


def layout_json(layout: Layout) -> str:
    """Return the text of ``layout.json``."""
    record: dict[str, Any] = {
        "format": "layout",
        "version": 1,
        "cut_class": layout.cut_class,
        "kerf": rounded(layout.kerf_mm),
        "seed": layout.seed,
        "work": layout.work,
        "placements": [_placement_record(placement) for placement in layout.placements],
        "pieces": [
            {
                "board": piece.board,
                "id": piece.id,
                "x0": rounded(piece.x0_mm),
                "x1": rounded(piece.x1_mm),
                "placements": list(piece.placements),
            }
            for piece in layout.pieces
        ],
        "cuts": [
            {
                "board": cut.board,
                "order": cut.order,
                "kind": cut.kind,
                "from": [rounded(cut.from_mm[0]), rounded(cut.from_mm[1])],
                "to": [rounded(cut.to_mm[0]), rounded(cut.to_mm[1])],
            }
            for cut in layout.cuts
        ],
        "unplaced": [
            {"part": u.part, "copies": u.copies, "reason": u.reason, "nearest": u.nearest}
            for u in layout.unplaced
        ],
        "offcuts": [
            {
                "board": offcut.board,
                "x": rounded(offcut.x_mm),
                "y": rounded(offcut.y_mm),
                "length": rounded(offcut.length_mm),
                "width": rounded(offcut.width_mm),
            }
            for offcut in layout.offcuts
        ],
        "summary": {
            "placed": layout.summary.placed,
            "asked": layout.summary.asked,
            "boards_opened": layout.summary.boards_opened,
            "area_opened": rounded(layout.summary.area_opened_mm2),
            "board_feet": rounded(layout.summary.board_feet),
            "yield": significant(layout.summary.yield_share, 9),
        },
        "bound": {
            "of": layout.bound.of,
            "cut_class": layout.bound.cut_class,
            "value": rounded(layout.bound.value),
            "gap": significant(layout.bound.gap, 9),
        },
        "not_looked_over": list(layout.not_looked_over),
    }
    return json_text(record)


def read_layout(path: Path) -> Layout:
    """Return the layout in a ``layout.json``.

    Raises
    ------
    FileError
        The file cannot be read.
    PlacementError
        It is no layout file, or a field is wrong; the sentence names the field.
    """
    return _layout_of(read_json(path, LayoutRow, "layout", PlacementError))


def _placement_record(placement: Placement) -> dict[str, Any]:
    record = {
        "part": placement.part,
        "copy": placement.copy,
        "board": placement.board,
        "x": rounded(placement.x_mm),
        "y": rounded(placement.y_mm),
        "length": rounded(placement.length_mm),
        "width": rounded(placement.width_mm),
        "angle": round(placement.angle_deg, 3),
        "show_face": placement.show_face,
        "margin": rounded(placement.margin_mm),
        "locked": placement.locked,
        "state": placement.state,
    }
    # Only staves, slices and nested parts carry these, so that other layouts are what they were.
    more = {
        "stave": placement.stave,
        "layer": placement.layer,
        "nest": placement.nest,
        "half_turn": placement.half_turn or None,
    }
    return record | {name: number for name, number in more.items() if number is not None}


def _layout_of(row: LayoutRow) -> Layout:
    return Layout(
        cut_class=row.cut_class,
        kerf_mm=row.kerf,
        seed=row.seed,
        work=row.work,
        placements=tuple(
            Placement(
                p.part, p.copy_, p.board, p.x, p.y, p.length, p.width,
                p.angle, p.show_face, p.margin, p.locked, p.state, p.stave, p.layer,
                p.nest, p.half_turn,
            )
            for p in row.placements
        ),
        pieces=tuple(
            Piece(p.board, p.id, p.x0, p.x1, tuple(p.placements)) for p in row.pieces
        ),
        cuts=tuple(Cut(c.board, c.order, c.kind, c.from_, c.to) for c in row.cuts),
        unplaced=tuple(Unplaced(u.part, u.copies, u.reason, u.nearest) for u in row.unplaced),
        offcuts=tuple(Offcut(o.board, o.x, o.y, o.length, o.width) for o in row.offcuts),
        summary=Summary(
            row.summary.placed,
            row.summary.asked,
            row.summary.boards_opened,
            row.summary.area_opened,
            row.summary.board_feet,
            row.summary.yield_share,
        ),
        bound=Bound(row.bound.of, row.bound.cut_class, row.bound.value, row.bound.gap),
        not_looked_over=tuple(row.not_looked_over),
    )  # fmt: skip
