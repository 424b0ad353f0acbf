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

from scanner.board.measured import Measured

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.reading import FaceReading

# A photo that does not show the whole board tells another length; it is no witness.
_WHOLE = 0.03


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
        most = 0.0
        for n, (station, other) in enumerate(zip(widths, reading.widths, strict=True)):
            wide = _covering(station.width, other.width)
            if wide is not station.width:
                most = max(most, wide.u_mm)
                widths[n] = replace(station, width=wide)
        longer = _covering(length, reading.length)
        if longer is not length:
            length = longer
            doubts.append(_doubt(name, "length", longer.u_mm))
        if most > 0:
            apart_mm = max(apart_mm, most)
            doubts.append(_doubt(name, "width", most))
    return replace(
        shared,
        length=length,
        widths=tuple(widths),
        # An arris may be off by all of it, and parts keep that far from it.
        outline_u_mm=max(shared.outline_u_mm, apart_mm),
    ), doubts


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
