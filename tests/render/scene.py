"""What is rendered: a board's recipe and a photograph's recipe, each drawn from a seed."""

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

import numpy as np

from tests.render.camera import Camera, aim

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
    """A crack: from an end (``end`` A or B, a reach on each face) or on one face only."""

    kind: Literal["check", "split"]
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
    """A hole, a bark pocket or a stain."""

    kind: Literal["hole", "bark_pocket", "stain"]
    look: str  # nail, worm; mineral, sticker, water
    x: float
    y: float
    z: float
    size: tuple[float, float, float]  # half extents along x, y, z
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
    middle of the width (down as face 1 is seen), z into the board from face 1.
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
    supersample: int = 2
    taken: str = "2026:05:16 10:24:00"

    @property
    def turned(self) -> Turned:
        """How face 2 came up, seen from face 1 with end A at the rule's zero mark."""
        return "end_over_end" if self.reversed else "sideways"


def spec_hash(*specs: Any) -> str:
    """Return a name for these recipes that changes with any value in them."""
    text = json.dumps([asdict(s) for s in specs], sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def draw_board(
    seed: int,
    *,
    species: str | None = None,
    length_mm: float | None = None,
    clean: bool = False,
) -> BoardSpec:
    """Return a board drawn at random; ``clean`` leaves out every flaw but crook and taper."""
    rng = np.random.default_rng((seed, 11))
    wood = species or SPECIES[int(rng.integers(len(SPECIES)))]
    length = length_mm or float(rng.uniform(1200, 2480))
    width = float(rng.uniform(130, 235))
    thickness = float(rng.normal(27.2, 0.7))
    away = float(rng.choice([rng.uniform(25, 90), rng.uniform(90, 220)]))
    below = bool(rng.random() < 0.5)  # the pith lies beyond face 2
    pith_z = thickness + away if below else -away
    pith_y = float(rng.normal(0, 0.28 * width))
    corner = np.hypot(width / 2 + abs(pith_y) + 6, away + thickness + 4)
    board = BoardSpec(
        seed=seed,
        species=wood,
        length_mm=length,
        width_mm=width,
        thickness_mm=thickness,
        taper=float(rng.normal(0, 0.018)),
        crook=float(rng.normal(0, 3.2) * (length / 2440) ** 2),
        end_a_deg=float(rng.normal(0, 1.0)),
        end_b_deg=float(rng.normal(0, 1.0)),
        pith_y=pith_y,
        pith_z=pith_z,
        ring_mm=float(
            {"white ash": 2.6, "walnut": 4.2, "hard maple": 2.4}[wood] * rng.uniform(0.75, 1.5)
        ),
        sap_mm=float(
            {"white ash": 55, "walnut": 26, "hard maple": 130}[wood] * rng.uniform(0.6, 1.3)
        ),
        log_mm=float(corner * rng.uniform(1.04, 1.35)),
        saw="circular" if rng.random() < 0.5 else "band",
        weather=float(rng.beta(1.3, 3.0)),
        dirt=float(rng.beta(1.5, 2.5)),
        coated_ends=str(rng.choice(["", "", "", "#7d2f26", "#2f5a3c", "#d8d4c8"])),
    )
    if clean:
        return board
    return replace(
        board,
        knots=_draw_knots(rng, board, below),
        cracks=_draw_cracks(rng, board),
        spots=_draw_spots(rng, board),
        wane=_draw_wane(rng, board),
    )


def _draw_knots(rng: np.random.Generator, board: BoardSpec, below: bool) -> tuple[KnotSpec, ...]:
    count = int(rng.poisson(2.6 * board.length_mm / 2000))
    found: list[KnotSpec] = []
    for _ in range(count * 6):
        if len(found) >= count:
            break
        x = float(rng.uniform(70, board.length_mm - 70))
        y = float(rng.uniform(-0.5, 0.5) * board.width_mm * 0.92)
        radius = float(np.clip(rng.lognormal(2.0, 0.45), 3.2, 19))
        if any(abs(x - k.x) < 9 * (radius + k.radius) and abs(y - k.y) < 60 for k in found):
            continue
        look = str(rng.choice(["sound", "loose", "hollow", "cracked"], p=[0.52, 0.24, 0.08, 0.16]))
        stops = rng.random() < 0.3
        until = float(rng.uniform(0.25, 0.8) * board.thickness_mm) if stops else float("inf")
        found.append(
            KnotSpec(
                x=x,
                y=y,
                radius=radius,
                lean=float(rng.normal(0.25, 0.2)),
                until=until,
                look=look,  # type: ignore[arg-type]
                seed=int(rng.integers(1 << 30)),
            )
        )
    return tuple(found)


def _draw_cracks(rng: np.random.Generator, board: BoardSpec) -> tuple[CrackSpec, ...]:
    cracks: list[CrackSpec] = []
    half = board.width_mm / 2
    for end in ("A", "B"):
        for _ in range(int(rng.poisson(1.1))):
            split = bool(rng.random() < 0.25)
            long = float(rng.uniform(60, 320) if split else rng.uniform(25, 150))
            short = long * float(rng.uniform(0.75, 1.0) if split else rng.uniform(0.15, 0.75))
            first = rng.random() < 0.5
            cracks.append(
                CrackSpec(
                    kind="split" if split else "check",
                    end=end,  # type: ignore[arg-type]
                    face=0,
                    x=0.0,
                    y=float(rng.uniform(-0.75, 0.75) * half),
                    reach1=long if first else short,
                    reach2=short if first else long,
                    width=float(rng.uniform(1.2, 3.0) if split else rng.uniform(0.5, 1.6)),
                    seed=int(rng.integers(1 << 30)),
                )
            )
    for _ in range(int(rng.poisson(0.8))):
        cracks.append(
            CrackSpec(
                kind="check",
                end="",
                face=int(rng.integers(1, 3)),
                x=float(rng.uniform(0.12, 0.88) * board.length_mm),
                y=float(rng.uniform(-0.7, 0.7) * half),
                reach1=float(rng.uniform(40, 220)),
                reach2=0.0,
                width=float(rng.uniform(0.4, 1.0)),
                seed=int(rng.integers(1 << 30)),
            )
        )
    return tuple(cracks)


def _draw_spots(rng: np.random.Generator, board: BoardSpec) -> tuple[SpotSpec, ...]:
    spots: list[SpotSpec] = []
    t, half, length = board.thickness_mm, board.width_mm / 2, board.length_mm

    def spot(kind: str, look: str, z: float, size: tuple[float, float, float]) -> None:
        spots.append(
            SpotSpec(
                kind=kind,  # type: ignore[arg-type]
                look=look,
                x=float(rng.uniform(0.08, 0.92) * length),
                y=float(rng.uniform(-0.8, 0.8) * half),
                z=z,
                size=size,
                seed=int(rng.integers(1 << 30)),
            )
        )

    if rng.random() < 0.18:
        radius = float(rng.uniform(1.5, 3.0))
        spot("hole", "nail", t / 2, (radius, radius, t))
    if rng.random() < 0.15:
        for _ in range(int(rng.integers(1, 6))):
            radius = float(rng.uniform(0.6, 1.6))
            side = float(rng.choice([0.0, t]))
            spot("hole", "worm", side, (radius, radius, t * 0.4))
    if rng.random() < 0.25:
        z = float(rng.choice([0.0, t, t / 2]))
        size = (float(rng.uniform(12, 40)), float(rng.uniform(2.5, 6)), float(rng.uniform(6, 18)))
        spot("bark_pocket", "", z, size)
    if rng.random() < 0.3:
        z = float(rng.choice([0.0, t]))
        size = (float(rng.uniform(60, 260)), float(rng.uniform(6, 22)), t * 0.6)
        spot("stain", "mineral", z, size)
    if rng.random() < 0.2:
        z = float(rng.choice([0.0, t]))
        spot("stain", "sticker", z, (float(rng.uniform(13, 20)), 2 * board.width_mm, 4.0))
    return tuple(spots)


def _draw_wane(rng: np.random.Generator, board: BoardSpec) -> WaneSpec | None:
    if rng.random() < 0.5:
        return None
    return WaneSpec(
        # The outer edge of the log is the one further from the pith.
        side=-int(np.sign(board.pith_y)) or 1,
        width=float(rng.uniform(8, 30)),
        middle=float(rng.choice([rng.uniform(-0.05, 0.3), rng.uniform(0.7, 1.05)])),
        spread=float(rng.uniform(0.15, 0.5)),
        bark=float(rng.uniform(0.2, 1.0)),
        bark_mm=float(rng.uniform(3, 7)),
    )


_SIZES = {"full": (3264, 2448), "medium": (2016, 1512), "small": (1024, 768)}


def draw_photo(
    seed: int,
    board: BoardSpec,
    *,
    rule: RuleKind = "strip",
    face: int = 1,
    size: Literal["full", "medium", "small"] = "full",
    floor: str | None = None,
    light: str | None = None,
    orientation: int | None = None,
    end_over_end: bool | None = None,
    strip: StripSpec | None = None,
    fixed: np.random.Generator | None = None,
) -> PhotoSpec:
    """Return a photograph drawn at random that shows the whole board and rule.

    ``strip`` keeps one printed strip (or rule) over several photos: print and joints are its own.
    """
    rng = np.random.default_rng((seed, 23, face))
    long_px, short_px = _SIZES[size]
    turn = orientation or int(rng.choice([1, 1, 1, 3, 6, 8]))
    portrait = turn in (6, 8)
    width, height = (short_px, long_px) if portrait else (long_px, short_px)
    ruler = strip or draw_rule(seed, board, rule)
    # The board lies on the +y side of the strip, 20-80 mm off.
    slant = float(rng.normal(0, 1.2))
    apart = float(rng.uniform(24, 80)) + np.radians(abs(slant)) * board.length_mm / 2
    near = max(ruler.width_mm, ruler.batten_width if ruler.batten_mm else 0) / 2
    board_y = near + apart + board.width_mm / 2 + abs(board.crook)
    spare = ruler.length_mm - board.length_mm
    board_x = ruler.length_mm / 2 + float(rng.uniform(-0.4, 0.4) * min(abs(spare), 120))
    if spare > 160:
        board_x = board.length_mm / 2 + float(rng.uniform(20, 90))
    if rule == "none":
        board_x, board_y = board.length_mm / 2, 0.0
    camera, focal_35 = _draw_camera(
        rng, board, ruler, (width, height), portrait, (board_x, board_y, slant)
    )
    flip = bool(rng.random() < 0.4) if end_over_end is None else end_over_end
    turned_round = flip if face == 2 else False
    if rule != "strip" and face == 1:
        turned_round = _end_a_would_be_right(camera, board_x, board_y, board)
    kinds = ("sun", "shade", "indoor")
    bright = light or str(rng.choice(kinds))
    ground = floor or str(rng.choice(["concrete", "plywood", "grass", "asphalt"]))
    if bright == "indoor" and ground in ("grass", "asphalt"):
        bright = "shade"
    casters = ["", "", "person", "tree"]
    return PhotoSpec(
        seed=seed,
        face=face,
        camera=camera,
        rule=ruler,
        light=LightSpec(
            kind=bright,  # type: ignore[arg-type]
            azimuth_deg=float(rng.uniform(0, 360)),
            elevation_deg=float(rng.uniform(28, 62)),
            strength=float(rng.uniform(0.75, 1.0)),
            warmth=float(rng.normal(0.1, 0.35)),
            caster=str(rng.choice(casters)) if bright == "sun" else "",  # type: ignore[arg-type]
            seed=int(rng.integers(1 << 30)),
        ),
        floor=ground,  # type: ignore[arg-type]
        board_x=float(board_x),
        board_y=float(board_y),
        board_deg=slant,
        reversed=turned_round,
        noise=float(rng.uniform(0.5, 1.3)),
        blur_px=float(rng.uniform(0.4, 0.68)) * (1.0 if size == "full" else 0.8),
        jpeg_quality=int(rng.integers(80, 93)),
        orientation=turn,
        focal_35mm=round(focal_35),
        focal_mm=round(focal_35 / 6.4, 2),
        supersample=2,
        taken=f"2026:05:{int(rng.integers(10, 28))} {int(rng.integers(9, 18)):02d}:"
        f"{int(rng.integers(60)):02d}:{int(rng.integers(60)):02d}",
    )


def draw_rule(seed: int, board: BoardSpec, rule: RuleKind) -> StripSpec:
    """Return a strip, printed, glued and taped with its errors; or a plain steel rule."""
    rng = np.random.default_rng((seed, 37))
    if rule == "none":
        return StripSpec("none", length_mm=board.length_mm, width_mm=0.0, batten_width=0.0)
    if rule == "plain":
        return StripSpec(
            "plain", length_mm=36 * IN, batten_width=0.0, width_mm=28.0, thickness_mm=1.0, seed=seed
        )
    pieces = int(np.clip(np.ceil((board.length_mm + 60) / 250), 4, 10))
    joints = tuple(float(v) for v in np.round(rng.normal(0, 0.3, pieces - 1), 3))
    along = float(rng.normal(0, 0.002))
    true_length = (1 + along) * 250.0 * pieces + sum(joints)
    return StripSpec(
        "strip",
        length_mm=250.0 * pieces,
        batten_mm=float(np.clip(round(rng.normal(board.thickness_mm, 3)), 12, 33)),
        batten_width=float(rng.uniform(62, 70)),
        print_along=along,
        print_across=float(rng.normal(0, 0.002)),
        joints=joints,
        sag=float(rng.normal(0, 0.6)),
        crook=float(rng.normal(0, 0.6)),
        taped_mm=round(float(true_length + rng.normal(0, 0.6)) * 2) / 2,
        thickness_mm=0.1,
        seed=seed,
    )


def _draw_camera(
    rng: np.random.Generator,
    board: BoardSpec,
    ruler: StripSpec,
    size: tuple[int, int],
    portrait: bool,
    place: tuple[float, float, float],
) -> tuple[Camera, float]:
    """Stand beside the board and step back until all of it is in the picture."""
    focal_35 = float(rng.uniform(24, 28))
    long_px = max(size)
    diagonal = float(np.hypot(*size))
    true_focal = focal_35 * diagonal / 43.27 * float(rng.normal(1, 0.012))
    board_x, board_y, slant = place
    corners = _corners(board, ruler, board_x, board_y, slant)
    middle = np.array([corners[:, 0].mean(), corners[:, 1].mean(), 0.0])
    middle += np.array([*rng.normal(0, 40, 2), 0.0])
    stand = float(rng.choice([-90.0, 90.0], p=[0.65, 0.35])) + float(rng.normal(0, 9))
    if portrait:
        stand = float(rng.choice([180.0, 0.0])) + float(rng.normal(0, 7))
    tilt = float(rng.uniform(2, 25 if portrait else 40))
    roll = float(rng.normal(0, 2.0))
    offset = rng.normal(0, 30 * long_px / 4032 * 0.6, 2)
    k1 = float(rng.normal(0.0, 0.018))
    lens = (k1, float(rng.normal(0, 0.008)), 0.0, *map(float, rng.normal(0, 1.5e-4, 2)))
    away = 900.0
    while True:
        camera = aim(
            middle,
            away,
            tilt,
            stand,
            roll,
            focal=true_focal,
            centre=((size[0] - 1) / 2 + offset[0], (size[1] - 1) / 2 + offset[1]),
            size=size,
            lens=lens,
        )
        seen = camera.project(corners)
        edge = 0.02 * long_px
        inside = (seen > edge) & (seen < np.array(size) - 1 - edge)
        if inside.all() and away * np.cos(np.radians(tilt)) >= 1100:
            return camera, focal_35
        away *= 1.02
        if away > 3200:  # a steep view of a long board: stand more upright over it
            tilt, away = tilt * 0.7, 1200.0


def _corners(
    board: BoardSpec, ruler: StripSpec, board_x: float, board_y: float, slant: float
) -> np.ndarray:
    half = np.array([board.length_mm / 2 + 25, board.width_mm / 2 + 10])
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    a = np.radians(slant)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    points = signs * half @ turn.T + [board_x, board_y]
    if ruler.kind != "none":
        w = max(ruler.width_mm, ruler.batten_width) / 2
        ends = (-15.0, ruler.length_mm + 15)
        points = np.vstack([points, [[x, s * w] for x in ends for s in (-1, 1)]])
    return np.column_stack([points, np.full(len(points), board.thickness_mm)])


def _end_a_would_be_right(camera: Camera, x: float, y: float, board: BoardSpec) -> bool:
    ends = np.array([[x + s * board.length_mm / 2, y, board.thickness_mm] for s in (-1, 1)])
    first, last = camera.project(ends)
    along = last - first
    if abs(along[1]) > abs(along[0]):
        return bool(first[1] < last[1])  # end A is the lower one
    return bool(first[0] > last[0])
