"""What an end's flat picture says, in the board's own frame: `RingFacts` with their doubts."""

import numpy as np

from scanner.board.ring_facts import (
    SURE_DEG,
    UNTOLD_DEG,
    EndName,
    RingFacts,
    RingStation,
    angle_to_face_deg,
)
from scanner.board.rings_by_hand import ACROSS_END_SHARES
from scanner.vision.second_look.end_grain import EndRings, fit_end_rings
from scanner.vision.second_look.plane import FlatSide

_LEAST_AGREEING = 0.6
# Where less than half agrees with one pith, another set of lines may be the rings: no direction is
# told. Of 220 rendered ends (8030-8099, 8612-8651) one had so little: a saw's streaks were taken
# for its rings.
_LEAST_TOLD = 0.5
_MOST_RIVAL = 0.8
_LEAST_SEEN = 0.5
# Pith this near to a face's plane, as a share of U, tells no heart side.
_LEAST_HEART_DEG = 12.0


def ring_facts(side: FlatSide, end: EndName) -> tuple[RingFacts, EndRings] | None:
    """Return what an end shows, or None where no rings are seen that go together.

    The end is seen from outside with face 1 up, so that y of the board frame runs to the right at
    end A and to the left at end B.
    """
    wood = np.ones(side.pixels.shape[:2], dtype=bool)
    fit = fit_end_rings(side.pixels, wood, side.mm_per_px)
    if fit is None:
        return None
    width, thickness = side.size_mm
    sign = 1.0 if end == "A" else -1.0
    stations = []
    for share in ACROSS_END_SHARES:
        y = share * width
        u = y if end == "A" else width - y
        growth, u_deg = fit.growth_at((u, thickness / 2))
        if fit.agreeing < _LEAST_TOLD:
            u_deg = UNTOLD_DEG
        across, deep = sign * float(growth[0]), float(growth[1])
        # A ring runs square to its growth: towards larger y it climbs to face 1 where both
        # components of the growth have one sign.
        leans = "" if abs(across * deep) < 0.03 else ("+" if across * deep > 0 else "-")
        stations.append(RingStation(round(y, 1), angle_to_face_deg(across, deep), u_deg, leans))
    return (
        RingFacts(
            end=end,
            width_mm=width,
            thickness_mm=thickness,
            stations=tuple(stations),
            pith_mm=_pith(fit, end, width),
            heart_face=_heart(fit, thickness),
            doubts=_doubts(fit, tuple(stations)),
        ),
        fit,
    )


def _pith(fit: EndRings, end: EndName, width: float) -> tuple[float, float] | None:
    found = fit.pith_mm
    if found is None:
        return None
    u, z = found
    return (round(u if end == "A" else width - u, 1), round(z, 1))


def _heart(fit: EndRings, thickness: float) -> int | None:
    """Return the face nearer the pith, None where that is in doubt."""
    pith = fit.pith_mm
    if pith is not None and -2 <= pith[1] <= thickness + 2:
        return None
    deep = float(np.sin(fit.towards_rad))
    least = np.sin(np.radians(_LEAST_HEART_DEG))
    if abs(deep) < least or fit.rival > _MOST_RIVAL or fit.agreeing < _LEAST_TOLD:
        return None
    return 2 if deep > 0 else 1


def _doubts(fit: EndRings, stations: tuple[RingStation, ...]) -> tuple[str, ...]:
    found = []
    if fit.agreeing < _LEAST_AGREEING:
        found.append(
            f"only {100 * fit.agreeing:.0f} % of the end agrees with one pith: plane or wet the"
            " end and photograph it again"
        )
    if fit.rival > _MOST_RIVAL:
        found.append("rings are seen running two ways: heart side and pith are left open")
    if fit.seen_share < _LEAST_SEEN:
        found.append("few rings are seen: paint, dirt or saw marks hide them")
    unsure = sum(not one.is_sure for one in stations)
    if unsure:
        found.append(
            f"at {unsure} of {len(stations)} places the rings' direction is not sure within"
            f" {SURE_DEG:.0f} degrees: look at the end itself there"
        )
    return tuple(found)
