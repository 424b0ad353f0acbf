"""How carefully a made scene is photographed, what lies beside the board, and its bars."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Level:
    """How carefully the photos were taken; all sd are one standard deviation."""

    tape_sd_mm: float
    most_bow_mm: float
    most_tilt_deg: float
    height_sd_mm: float
    hidden_share: float
    smooth_px: float
    joint_sd_mm: float
    strip_taped: bool = True


LEVELS = {
    "good": Level(0.5, 2.0, 25.0, 0.5, 0.0, 0.3, 0.15),
    "typical": Level(1.0, 5.0, 40.0, 1.0, 0.2, 0.5, 0.3),
    "hard": Level(1.0, 12.0, 60.0, 1.5, 0.4, 0.8, 0.5, strip_taped=False),
}


@dataclass(frozen=True, slots=True)
class Kind:
    """What lies beside the board, and what was typed in.

    Attributes
    ----------
    strip_taped, most_bow_mm
        Instead of the level's; None: as the level has it.
    bow_said
        Whether the person says how much the boards of this lot bow at most (else the program's
        own assumption stands).
    overhead
        Photos from straight above along the board, the first and the last over its ends.
    least_tilt_deg
        Photos "from different sides" tilt at least so much; with any tilt, some are from nearly
        the same place (and the program says so of them).
    room
        How much further off than the nearest place that shows everything, at most: people leave
        room round a board. With 1.25 the median camera is 2.0 m above an 8 ft board, as in the
        hand check of the geometry's section 12; with 1 it is 1.8 m.
    lot
        How many boards of the lot were scanned with the same phone before this one.
    read
        How places are read: off the flat picture, or in every photo that shows them.
    length_ft
        None: anything from 2 to 12 ft.
    """

    reference: str  # strip, rule
    on_face: bool = False
    arm: bool = False
    second: bool = False
    strip_taped: bool | None = None
    board_taped: bool = False
    photos: int = 1
    overhead: bool = False
    read: str = "picture"  # picture, photos
    both_edges: bool = True
    most_bow_mm: float | None = None
    bow_said: bool = True
    length_ft: float | None = 8.0
    least_tilt_deg: float = 0.0
    room: float = 1.25
    lot: int = 0


_TWO = Kind("strip", arm=True, photos=2, read="photos", least_tilt_deg=10.0)
_ABOVE = Kind("strip", arm=True, photos=4, read="photos", overhead=True)
KINDS = {
    "strip": Kind("strip"),
    "strip, as near as it goes": Kind("strip", room=1.0),
    "strip, taped even where hard": Kind("strip", strip_taped=True),
    "strip, bow not said": Kind("strip", bow_said=False),
    "strip, 2 to 12 ft": Kind("strip", length_ft=None),
    "strip, never taped": Kind("strip", strip_taped=False),
    "strip + arm": Kind("strip", arm=True),
    "strip + arm, never taped": Kind("strip", arm=True, strip_taped=False),
    "strip on face + arm": Kind("strip", on_face=True, arm=True),
    "two photos, off the picture": replace(_TWO, read="picture"),
    "two photos": _TWO,
    "two photos, bow to 12 mm": replace(_TWO, most_bow_mm=12.0, bow_said=False),
    "two photos, 12 ft": replace(_TWO, length_ft=12.0),
    "two photos, any tilt": replace(_TWO, least_tilt_deg=0.0),
    "two photos, no arm": replace(_TWO, arm=False),
    "two photos from above": replace(_ABOVE, photos=2),
    "four photos from above": _ABOVE,
    "four photos from above, no arm": replace(_ABOVE, arm=False),
    "six photos from above, 12 ft": replace(_ABOVE, photos=6, length_ft=12.0),
    "rule": Kind("rule"),
    "rule, one edge's graduations": Kind("rule", both_edges=False),
    "rule + taped length": Kind("rule", board_taped=True),
    "rule + taped length, sixth of a lot": Kind("rule", board_taped=True, lot=5),
    "rule + taped length, two photos": Kind(
        "rule", board_taped=True, photos=2, least_tilt_deg=10.0
    ),
    "two rules": Kind("rule", second=True),
}

# (kind, level) -> 95 % of errors in length and width, and the median U of both where the
# reference prototype gave it (geometry of the fit, section 12): mm.
BARS: dict[tuple[str, str], tuple[float, float, float, float]] = {
    ("strip, as near as it goes", "typical"): (5.0, 2.3, 5.8, 2.2),
    ("strip", "good"): (2.6, 1.6, 3.1, 1.3),
    ("strip", "typical"): (5.0, 2.3, 5.8, 2.2),
    ("strip", "hard"): (16.6, 3.6, 15.1, 3.2),
    ("strip, taped even where hard", "hard"): (11.8, 2.9, 11.6, 2.2),
    ("strip + arm, never taped", "typical"): (10.9, 1.6, 11.2, 1.5),
    ("strip + arm", "good"): (2.9, 0.8, 3.0, 0.9),
    ("strip + arm", "typical"): (5.3, 1.7, 5.6, 1.3),
    ("strip + arm", "hard"): (16.1, 3.3, 14.9, 2.3),
    ("strip on face + arm", "good"): (1.6, 0.9, 2.1, 0.8),
    ("strip on face + arm", "typical"): (3.0, 1.2, 3.0, 1.1),
    ("strip on face + arm", "hard"): (10.5, 1.7, 10.6, 1.9),
    ("two photos", "good"): (1.4, 0.6, 2.0, 0.6),
    ("two photos", "typical"): (2.3, 0.8, 2.8, 0.8),
    ("two photos", "hard"): (10.2, 1.5, 10.3, 1.4),
    ("two photos, bow to 12 mm", "typical"): (2.9, 0.8, 2.9, 0.8),
    ("two photos, 12 ft", "typical"): (3.2, 1.1, 3.6, 1.2),
    ("four photos from above", "typical"): (2.8, 0.6, 2.3, 0.5),
    ("six photos from above, 12 ft", "typical"): (3.9, 0.5, 3.4, 0.5),
    ("rule", "good"): (26.9, 3.9, 26.7, 2.6),
    ("rule", "typical"): (29.8, 5.9, 28.7, 4.4),
    ("rule", "hard"): (31.1, 6.9, 32.7, 6.0),
    ("rule + taped length", "good"): (2.7, 3.5, 3.2, 2.5),
    ("rule + taped length", "typical"): (3.0, 5.0, 3.2, 3.6),
    ("rule + taped length", "hard"): (3.2, 5.9, 3.2, 5.2),
    ("rule + taped length, sixth of a lot", "typical"): (3.0, 5.0, 3.2, 3.6),
    ("rule + taped length, two photos", "typical"): (3.0, 5.0, 3.2, 3.6),
    ("two rules", "good"): (14.4, 1.4, 14.7, 1.3),
    ("two rules", "typical"): (14.0, 2.5, 14.4, 1.9),
    ("two rules", "hard"): (16.9, 4.3, 18.0, 3.3),
}
