"""What the rings on an end say of a board: ring angle, heart side, pith, cup, rift zones.

Grain seen on a face does not prove the grain inside; an end shows it, at that end. All of it is a
reading of a photograph and holds once a person has nodded at it.
"""

import math
from dataclasses import dataclass
from typing import Literal

EndName = Literal["A", "B"]

# A leg looks alike on all four sides where its rings run from corner to corner: 45 degrees to the
# faces, give or take this (common practice of chair and table makers, no source).
RIFT_DEG = 45.0
RIFT_TOLERANCE_DEG = 15.0
# Rings steeper than this to the face are called quartersawn, flatter than 45 less the tolerance
# flatsawn (Wood Handbook FPL-GTR-190, chapter 3: quartersawn 45 to 90 degrees, flatsawn 0 to 45;
# trade practice keeps "rift" for the middle).
_QUARTERED_DEG = RIFT_DEG + RIFT_TOLERANCE_DEG

# A direction whose U is larger is asked about, not told.
SURE_DEG = 5.0
# Such a U leaves every direction open: no number is worth a look.
UNTOLD_DEG = 90.0


@dataclass(frozen=True, slots=True)
class RingStation:
    """The rings at one place across an end.

    Attributes
    ----------
    y_mm
        Board frame: across, from the edge of smaller y of the end as photographed.
    angle_deg
        Of the rings to the faces at mid-thickness: 0 flatsawn to 90 quartersawn.
    u_deg
        Half-width of a 95 % interval.
    leans
        Way that the rings rise towards face 1: ``+`` towards larger y, ``-`` smaller y; "" where
        they lie flat or stand upright.
    """

    y_mm: float
    angle_deg: float
    u_deg: float
    leans: str = ""

    @property
    def is_sure(self) -> bool:
        """Whether the direction is told well enough to say how the wood is cut here."""
        return self.u_deg <= SURE_DEG

    @property
    def is_told(self) -> bool:
        """Whether anything is told of the direction, sure or not."""
        return self.u_deg < UNTOLD_DEG

    @property
    def cut(self) -> Literal["flatsawn", "rift", "quartersawn"]:
        """What the trade calls wood cut so."""
        if self.angle_deg < RIFT_DEG - RIFT_TOLERANCE_DEG:
            return "flatsawn"
        return "rift" if self.angle_deg <= _QUARTERED_DEG else "quartersawn"


@dataclass(frozen=True, slots=True)
class RingFacts:
    """What one end of a board shows.

    Attributes
    ----------
    width_mm, thickness_mm
        Of the end as measured in the photo.
    pith_mm
        (y, z), board frame counted from the end's corner at smallest y on face 1; None where the
        rings are too straight to say how far off it lies.
    heart_face
        The face that lies nearer to the pith; None where the rings do not tell (pith inside the
        thickness, or rings upright).
    is_confirmed
        A person looked at the picture with the rings drawn in and agreed.
    """

    end: EndName
    width_mm: float
    thickness_mm: float
    stations: tuple[RingStation, ...]
    pith_mm: tuple[float, float] | None
    heart_face: int | None
    is_confirmed: bool = False
    doubts: tuple[str, ...] = ()

    @property
    def has_pith_inside(self) -> bool:
        """Whether the tree's middle lies in this board's own wood."""
        if self.pith_mm is None:
            return False
        y, z = self.pith_mm
        return -1 <= y <= self.width_mm + 1 and -1 <= z <= self.thickness_mm + 1

    @property
    def hollow_face(self) -> int | None:
        """The face that goes hollow in drying: away from the heart, the bark side.

        Hoadley, Understanding Wood; Wood Handbook, chapter 13: rings straighten as they dry.
        """
        return None if self.heart_face is None else 3 - self.heart_face

    @property
    def hidden_face(self) -> int | None:
        """The face to hide where either may show: the heart side, whose arches may lift.

        Common practice, no source: raised, shelling grain shows on the pith side of flatsawn wood.
        """
        flat = [s for s in self.stations if s.cut == "flatsawn"]
        return self.heart_face if len(flat) * 2 >= len(self.stations) else None

    def rift_zones(self, leg_mm: float) -> tuple[tuple[float, float], ...]:
        """Return stretches (y from, y to), at least a leg wide, whose rings run corner to corner.

        Between stations the angle is taken as straight; U counts against the zone.
        """
        return tuple((low, high) for low, high in self._spans() if high - low >= leg_mm - 1e-6)

    def _spans(self) -> list[tuple[float, float]]:
        spans: list[list[float]] = []
        near = [abs(s.angle_deg - RIFT_DEG) + s.u_deg <= RIFT_TOLERANCE_DEG for s in self.stations]
        for n, station in enumerate(self.stations):
            if not near[n]:
                continue
            if spans and n and near[n - 1]:
                spans[-1][1] = station.y_mm
            else:
                spans.append([station.y_mm, station.y_mm])
        return [(low, high) for low, high in spans]


def angle_to_face_deg(across: float, deep: float) -> float:
    """Return the rings' angle to the face (0 to 90) of their growth direction (y, z)."""
    return math.degrees(math.atan2(abs(across), abs(deep)))
