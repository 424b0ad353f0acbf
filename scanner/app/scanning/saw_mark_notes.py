"""What a low lamp showed of saw marks, as a note on the board: never a flaw, and never "none"."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.vision.photos.picture import SawMarks

# Places are told so finely; they are found in windows of 25 mm.
_STEP_MM = 10.0


def saw_mark_note(
    number: int, marks: SawMarks, from_end_a: Callable[[float], float] = lambda x_mm: x_mm
) -> str:
    """Return the note on one face's saw marks.

    Parameters
    ----------
    number
        The face, 1 or 2.
    marks
        As the low lamp showed them, in the face's own view.
    from_end_a
        From mm along the face's own view to mm from end A.
    """
    # Which saw leaves which marks is common practice, no source.
    way = {
        True: "in arcs across it, as a round saw leaves them",
        False: "straight across it, as a band saw leaves them",
        None: "across it",
    }[marks.is_bowed]
    places = sorted(
        tuple(sorted(max(0.0, from_end_a(x_mm)) for x_mm in place)) for place in marks.strong_mm
    )
    said = f"face {number}: under the low lamp saw marks run {way}"
    if not places:
        return said
    where = ", ".join("-".join(f"{_rounded(x_mm):.0f}" for x_mm in place) for place in places)
    return (
        f"{said}, and stand out most {where} mm from end A: look there first whether they plane"
        " out; how deep they are a photo does not tell"
    )


def _rounded(x_mm: float) -> float:
    return _STEP_MM * round(x_mm / _STEP_MM)
