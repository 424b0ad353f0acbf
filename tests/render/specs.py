"""The recipes of a board, a rule, a light and a photograph: frozen values and nothing else."""

import hashlib
import json
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal

from tests.render.camera import Camera

RuleKind = Literal["strip", "plain", "none"]
Turned = Literal["sideways", "end_over_end"]
IN = 25.4

SPECIES = ("white ash", "walnut", "hard maple")


@dataclass(frozen=True)
class KnotSpec:
    """A branch: it leaves the pith at ``x`` and crosses the board's middle plane at ``y``."""

    x: float
    y: float
    radius: float  # where it crosses the middle of the thickness, mm
    lean: float  # mm along x per mm away from the pith
    until: (
        float  # how far from face 1 (or 2, whichever is nearer the pith) it reaches; inf = through
    )
    look: Literal["sound", "loose", "hollow", "cracked"]
    seed: int


@dataclass(frozen=True)
class CrackSpec:
    """A crack: from an end (``end`` A or B, a reach on each face) or on one face only.

    Checks and splits point at the pith; a shake runs along a ring.
    """

    kind: Literal["check", "split", "shake"]
    end: Literal["A", "B", ""]
    face: int  # 0 = both; surface checks lie on one
    x: float  # middle of a surface check
    y: float
    reach1: float  # mm from the end on face 1; length of a surface check
    reach2: float
    width: float
    seed: int


@dataclass(frozen=True)
class SpotSpec:
    """A hole, a bark pocket, a stain or pitch."""

    kind: Literal["hole", "bark_pocket", "stain", "pitch"]
    look: str  # nail, worm; mineral, sticker, water, oil; streak, pocket
    x: float
    y: float
    z: float
    size: tuple[float, float, float]  # half extents along x, y, z
    seed: int


@dataclass(frozen=True)
class MarkSpec:
    """What its owner chalked on one face: not this wood."""

    kind: Literal["loop", "cross", "line"]
    tool: str  # white chalk, yellow chalk, blue crayon, red crayon, black crayon
    face: int
    x: float
    y: float
    size: tuple[float, float]  # half extents along x, y
    wide: float  # of the stroke
    seed: int


@dataclass(frozen=True)
class WaneSpec:
    """Bark left along one edge: ``side`` -1 is smaller y, +1 larger y."""

    side: int
    width: float  # greatest, on the bark-side face, mm
    middle: float  # where along the board, share of the length
    spread: float  # half length, share of the length
    bark: float  # share of the wane that still carries bark
    bark_mm: float


@dataclass(frozen=True)
class BoardSpec:
    """One board, cut from one log. All lengths in mm.

    ``pith_y``, ``pith_z`` place the pith line in the board's own frame: x from end A, y from the
    middle of the width (down as face 1 is seen), z into the board from face 1. ``bow`` and ``cup``
    are sagittas, positive where face 1 is hollow; ``twist`` is how high the fourth corner stands.
    """

    seed: int
    species: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    taper: float  # share of the width lost from end A to end B
    crook: float  # sagitta, mm, towards larger y
    end_a_deg: float
    end_b_deg: float
    pith_y: float
    pith_z: float
    ring_mm: float
    sap_mm: float  # width of the sapwood
    log_mm: float  # radius of the log under the bark, at the middle
    saw: Literal["circular", "band"]
    weather: float  # 0 fresh from the saw .. 1 grey
    dirt: float
    coated_ends: str  # "", or the colour of end paint
    knots: tuple[KnotSpec, ...] = ()
    cracks: tuple[CrackSpec, ...] = ()
    spots: tuple[SpotSpec, ...] = ()
    wane: WaneSpec | None = None
    bow: float = 0.0
    cup: float = 0.0
    twist: float = 0.0
    marks: tuple[MarkSpec, ...] = ()

    @property
    def id(self) -> str:
        """Eight letters that change with every value."""
        return spec_hash(self)[:8]


@dataclass(frozen=True)
class LightSpec:
    """Sun (hard shadows), shade (soft sky) or a workshop's lamps (indoor)."""

    kind: Literal["sun", "shade", "indoor"]
    azimuth_deg: float
    elevation_deg: float
    strength: float  # of the direct part
    warmth: float  # -1 blue .. 1 warm: what the white balance left
    caster: Literal["", "person", "tree"]
    seed: int


@dataclass(frozen=True)
class PhoneSpec:
    """One phone's lens; lengths as shares of the picture's long side, so any size fits."""

    focal_35mm: float  # as EXIF means it, before rounding
    stretch: float  # true focal length over the one that EXIF says
    lens: tuple[float, float, float, float, float]  # k1 k2 k3 p1 p2
    centre_off: tuple[float, float]  # of the principal point, shares of the long side


@dataclass(frozen=True)
class StripSpec:
    """The coded strip as printed, glued and laid; or the plain rule."""

    kind: RuleKind
    x: float = 0.0
    length_mm: float = 2500.0
    batten_mm: float = 0.0  # thickness of the batten under the strip
    batten_width: float = 66.0
    print_along: float = 0.0
    print_across: float = 0.0
    joints: tuple[float, ...] = ()
    sag: float = 0.0
    crook: float = 0.0
    taped_mm: float | None = None  # as read off the tape, error included
    width_mm: float = 60.0
    thickness_mm: float = 0.0
    seed: int = 0
    on: Literal["floor", "face"] = "floor"


@dataclass(frozen=True)
class PhotoSpec:
    """One photograph of one face. The photo frame is the upright one, after the EXIF turn."""

    seed: int
    face: int
    camera: Camera
    rule: StripSpec
    light: LightSpec
    floor: Literal["concrete", "plywood", "grass", "asphalt"]
    board_x: float  # where the board's middle lies, reference frame
    board_y: float
    board_deg: float
    reversed: bool  # the end at larger x is end A
    noise: float
    blur_px: float
    jpeg_quality: int
    orientation: int
    focal_35mm: int
    focal_mm: float
    ground_seed: int = 0
    supersample: int = 2
    taken: str = "2026:05:16 10:24:00"

    @property
    def turned(self) -> Turned:
        """How face 2 came up, seen from face 1 with end A at the rule's zero mark."""
        return "end_over_end" if self.reversed else "sideways"


_LATER = {"bow", "cup", "twist", "marks", "on"}  # fields that old recipes did not have


def _told(spec: Any) -> Any:
    """Return a recipe as plain values; later fields only where set, so no old board is renamed."""
    if is_dataclass(spec):
        pairs = ((f, getattr(spec, f.name)) for f in fields(spec))
        return {f.name: _told(v) for f, v in pairs if f.name not in _LATER or v != f.default}
    if isinstance(spec, (tuple, list)):
        return [_told(v) for v in spec]
    return spec


def spec_hash(*specs: Any) -> str:
    """Return a name for these recipes that changes with any value in them."""
    text = json.dumps([_told(s) for s in specs], sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()
