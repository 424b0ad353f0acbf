"""Hold a face read from several photos against what each photo tells alone.

Photos from different sides share one fit and one picture; where the outline follows a side face in
one of them, the shared figures are wrong together and their U does not know it. Each photo read
alone is a witness of its own: where it differs by more than both U allow, U is widened to cover it
and the user is told.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.measured import Measured
from scanner.board.reading import span_along_y_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.reading import FaceReading

# A photo that does not show the whole board tells another length; it is no witness.
_WHOLE = 0.03
# An outline's U holds this share of its places.
_HELD = 0.95
_PLACES = np.linspace(0.01, 0.99, 99)


def held_against_each(
    shared: FaceReading, alone: Sequence[FaceReading], names: Sequence[str]
) -> tuple[FaceReading, list[str]]:
    """Return the reading with each U wide enough for what the photos tell alone, and doubts.

    Parameters
    ----------
    shared
        The face as all photos together tell it.
    alone
        The face as single photos tell it, each in its own view of the same face; their stations
        lie at the same shares of the length.
    names
        The photos' names, in the order of ``alone``.
    """
    length, widths, apart_mm, doubts = shared.length, list(shared.widths), 0.0, []
    for reading, name in zip(alone, names, strict=True):
        whole = abs(reading.length.value_mm / length.value_mm - 1) <= _WHOLE
        if not whole or len(reading.widths) != len(widths):
            continue
        most = narrower_mm = 0.0
        for n, (station, other) in enumerate(zip(widths, reading.widths, strict=True)):
            wide = _covering(station.width, other.width)
            if wide is not station.width:
                most = max(most, wide.u_mm)
                if other.width.value_mm < station.width.value_mm:
                    narrower_mm = max(narrower_mm, wide.u_mm)
                widths[n] = replace(station, width=wide)
        longer = _covering(length, reading.length)
        if longer is not length:
            length = longer
            doubts.append(_doubt(name, "length", longer.u_mm))
        if most > 0:
            # Where it tells less wood than all do together, parts keep as far from the arris as it
            # may be off there. Where it tells more, what is laid out lies on wood either way: that
            # counts as in any outline's U, by how far most places are off.
            apart_mm = max(apart_mm, narrower_mm, min(most, _mostly_apart_mm(shared, reading)))
            doubts.append(_doubt(name, "width", most))
    return replace(
        shared,
        length=length,
        widths=tuple(widths),
        outline_u_mm=max(shared.outline_u_mm, apart_mm),
    ), doubts


def _mostly_apart_mm(shared: FaceReading, alone: FaceReading) -> float:
    """Return how far apart 19 of 20 widths along the board lie, each in its own view, mm."""
    gaps = np.abs(_widths_mm(shared.outline) - _widths_mm(alone.outline))
    return float(np.quantile(gaps, _HELD))


def _widths_mm(outline: Polygon) -> NDArray[np.float64]:
    left, _, right, _ = outline.bounds
    spans = [span_along_y_mm(outline, float(x)) for x in left + _PLACES * (right - left)]
    return np.array([span[1] - span[0] if span else 0.0 for span in spans])


def _covering(shared: Measured, alone: Measured) -> Measured:
    apart = abs(shared.value_mm - alone.value_mm)
    if apart <= math.hypot(shared.u_mm, alone.u_mm):
        return shared
    return Measured(shared.value_mm, max(shared.u_mm, apart))


def _doubt(name: str, what: str, apart_mm: float) -> str:
    return (
        f"{name} alone tells another {what} ({apart_mm:.0f} mm): look whether the outline runs"
        " along the edge of the face there, and tape it"
    )
