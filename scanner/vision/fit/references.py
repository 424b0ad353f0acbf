"""References as things of known size, with their doubts: printed strips, arms, plain rules."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypedDict

from scanner.geometry.strip_layout import (
    ARM_ORIGIN_MM,
    MARKERS_PER_PIECE,
    STRIP_WIDTH_MM,
    Piece,
    piece_length_mm,
)
from scanner.vision.evidence.observations import Reference

if TYPE_CHECKING:
    from scanner.vision.evidence.seen import SeenRule
    from scanner.vision.setup import RuleSize, Setup

PAPER_MM = 0.1
FREE = (math.inf, math.inf, math.inf)
# What printed references are called to the user.
NAMES: dict[Piece, str] = {
    "A": "strip A",
    "B": "strip B",
    "arm": "cross arm",
    "arm2": "second cross arm",
}


class _Told(TypedDict, total=False):
    bleed_mm: tuple[float, float]
    sd_bleed: tuple[float, float]


def strip_references(
    setup: Setup, highest: dict[Piece, int]
) -> tuple[tuple[Piece, ...], tuple[Reference, ...]]:
    """Return the printed references of which markers were seen; strip A (or B) is the frame."""
    on_face = setup.rule_on == "face"
    batten = setup.batten_mm
    height = PAPER_MM + (batten or 0.0)
    # A batten's thickness was measured; paper on a floor lies as the floor does.
    sd_height = 0.1 if on_face else (0.3 if batten is not None else 0.5)
    order: tuple[Piece, ...] = tuple(p for p in ("A", "B", "arm", "arm2") if p in highest)
    if not {"A", "B"} & set(order):
        return (), ()
    references = []
    for index, piece in enumerate(order):
        step = piece_length_mm(piece)
        if piece in ("A", "B"):
            pieces = highest[piece] // MARKERS_PER_PIECE + 1
            place, sd_place = (0.0, 0.0, 0.0), (None if index == 0 else FREE)
        else:
            pieces = 2
            place, sd_place = (*ARM_ORIGIN_MM, math.pi / 2), (1.0, 1.0, 0.01)
            if piece == "arm2":
                sd_place = FREE
        references.append(
            Reference(
                name=NAMES[piece],
                is_printed=True,
                size_mm=(pieces * step, STRIP_WIDTH_MM),
                piece_mm=step,
                height_mm=PAPER_MM if on_face else height,
                sd_height=sd_height,
                on_face=on_face,
                place=place,
                sd_place=sd_place,
                sd_sag=0.3 if on_face else 1.0,
            )
        )
    return order, tuple(references)


def rule_reference(size: RuleSize, seen: SeenRule, index: int, *, on_face: bool) -> Reference:
    """Return a plain rule as a reference."""
    thickness = size.thickness_mm
    # Steel rules are 1 to 1.5 mm thick, wooden ones more (common practice, no source).
    height = 1.2 if thickness is None else thickness
    sd_height = 0.4 if thickness is None else 0.2
    width_known = size.width_mm is not None
    told: _Told = (
        {} if seen.bleed is None else _Told(bleed_mm=seen.bleed.value_mm, sd_bleed=seen.bleed.sd_mm)
    )
    return Reference(
        name="rule" if index == 0 else "second rule",
        is_printed=False,
        size_mm=(seen.length_mm, seen.width_mm),
        height_mm=height,
        sd_height=sd_height if on_face else math.hypot(sd_height, 0.4),
        on_face=on_face,
        sd_place=None if index == 0 else FREE,
        sd_sag=0.3 if on_face else 0.7,
        sd_crook=0.3,
        sd_along=0.0002 if not seen.was_tapped else 0.0005,
        sd_across=0.002 if width_known else 3.0 / seen.width_mm,
        **told,
    )
