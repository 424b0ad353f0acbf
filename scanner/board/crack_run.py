"""How far a crack that starts at an end runs along the board: as far as its outlines show."""

from dataclasses import replace

from shapely.geometry import Polygon

from scanner.board.flaw import Flaw

# So far past a crack's tip its outline is drawn: the median of 35 rendered end checks.
PAST_TIP_MM = 7.0


def with_whole_reach(flaw: Flaw, face_1: Polygon) -> Flaw:
    """Return a crack from an end with a reach that takes in its outlines on both faces.

    A finder may place the tip far short of what it drew, and the other face may show more. A flaw
    that starts at no end comes back as it is.

    Parameters
    ----------
    flaw
        Outlines in the board frame, mm.
    face_1
        Outline of face 1, mm: its ends are the board's, from which placement counts a reach too.
    """
    if flaw.reach_mm is None:
        return flaw
    begin, _, end, _ = face_1.bounds
    bounds = [outline.bounds for outline in flaw.outlines.values()]
    x0, x1 = min(b[0] for b in bounds), max(b[2] for b in bounds)
    shown = x1 - begin if x0 - begin < end - x1 else end - x0
    return replace(flaw, reach_mm=max(flaw.reach_mm, shown - PAST_TIP_MM))
