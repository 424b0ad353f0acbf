"""Either edge of a bar read alone: many rules carry inches at one edge, centimetres at the other.

Counted together each is noise to the other: its lines hide which ones are the longest, and the
fourth part of a centimetre's spectrum (10.16 an inch) makes inches look divided in ten.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.vision.rule.read import Read
from scanner.vision.rule.size import judge
from scanner.vision.rule.ticks import read_edges

if TYPE_CHECKING:
    from scanner.vision.cv import Bytes
    from scanner.vision.rule.band import Band
    from scanner.vision.rule.ticks import Ticks
    from scanner.vision.setup import RuleSize


def as_read(band: Band, ticks: Ticks, size: RuleSize, focal_px: float | None) -> Read:
    """Return what graduations on a band say of the told size."""
    verdict = judge(ticks, band, size, focal_px)
    steps = size.length_mm / verdict.reading.step_mm
    return Read(band, ticks, verdict, ((band.start, band.stop),), steps)


def read_by_edges(grey: Bytes, one: Read, size: RuleSize, focal_px: float | None) -> Read | None:
    """Return what the lines of one edge say where they alone settle it, or None.

    Nothing where the other edge's clear lines give another scale. Where nothing is settled, but
    both edges agree in two units, the clearer one is no longer taken to be divided in ten.
    """
    each = [
        as_read(one.band, ticks, size, focal_px) for ticks in read_edges(grey, one.band, one.ticks)
    ]
    settled = [edge for edge in each if edge.is_settled]
    if settled:
        best = max(settled, key=lambda edge: edge.evidence)
        clear = [edge for edge in each if edge.ticks.are_clear]
        return None if any(edge.disagrees_with(best) for edge in clear) else best
    alike = len(each) == 2 and not each[0].disagrees_with(each[1])
    units = {edge.verdict.reading.unit_mm for edge in each}
    return (
        max(each, key=lambda edge: edge.evidence)
        if alike and one.is_otherwise_divided and len(units) == 2
        else None
    )
