"""The block ``looks`` of a board file: what the rough faces look like."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from scanner.board.looks import Looks
from scanner.board.ring_series import RingSeries
from scanner.files.json_text import rounded
from scanner.files.rows import Row

Positive = Annotated[float, Field(gt=0)]
Lightness = Annotated[float, Field(ge=0, le=150)]
Opponent = Annotated[float, Field(ge=-150, le=150)]
LabRow = tuple[Lightness, Opponent, Opponent]


class RingSeriesRow(Row):
    """The rings of one face on one side of the pith, from the pith out.

    ``light``: a value every 0.5 mm, light against its surroundings in tenths, negative dark.
    """

    face: Literal[1, 2]
    from_pith: Annotated[float, Field(ge=0)]
    light: Annotated[tuple[Annotated[int, Field(ge=-25, le=25)], ...], Field(min_length=2)]


class LooksRow(Row):
    """Colour (CIELAB against white paper) and rings of the rough faces, not of planed ones.

    ``heart_face_guess``: the face nearer to the pith as its grain looks; a guess, no proof.
    """

    of: Literal["rough faces"] = "rough faces"
    lab: LabRow | None = None
    spread: Annotated[float, Field(ge=0)] | None = None
    sap_lab: LabRow | None = None
    ring: Positive | None = None
    contrast: Positive | None = None
    figure: Literal["cathedral", "straight"] | None = None
    flat_share: Annotated[float, Field(ge=0, le=1)] | None = None
    heart_face_guess: Literal[1, 2] | None = None
    ring_series: tuple[RingSeriesRow, ...] = ()


def looks_record(looks: Looks) -> dict[str, Any]:
    """Return what a board file says of a board's looks."""
    record: dict[str, Any] = {
        "of": "rough faces",
        "lab": _lab(looks.lab),
        "spread": None if looks.spread is None else rounded(looks.spread),
        "sap_lab": _lab(looks.sap_lab),
        "ring": None if looks.ring_mm is None else rounded(looks.ring_mm),
        "contrast": None if looks.contrast is None else round(looks.contrast, 4),
        "figure": looks.figure,
        "flat_share": None if looks.flat_share is None else rounded(looks.flat_share),
        "heart_face_guess": looks.heart_face,
    }
    if looks.rings:  # written only where rings were read, as older readers refuse it
        record["ring_series"] = [
            {
                "face": series.face,
                "from_pith": rounded(series.from_pith_mm),
                "light": [round(10 * value) for value in series.light],
            }
            for series in looks.rings
        ]
    return record


def looks_from(row: LooksRow) -> Looks:
    """Return a board's looks as its file has them."""
    return Looks(
        lab=row.lab,
        spread=row.spread,
        sap_lab=row.sap_lab,
        ring_mm=row.ring,
        contrast=row.contrast,
        figure=row.figure,
        flat_share=row.flat_share,
        heart_face=row.heart_face_guess,
        rings=tuple(
            RingSeries(one.face, one.from_pith, tuple(value / 10 for value in one.light))
            for one in row.ring_series
        ),
    )


def _lab(lab: tuple[float, float, float] | None) -> list[float] | None:
    return None if lab is None else [rounded(value) for value in lab]
