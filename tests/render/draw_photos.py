"""Photographs drawn at random from a seed: rule, place, phone, light and floor."""

from typing import Literal

import numpy as np

from tests.render.camera import Camera, aim
from tests.render.specs import IN, BoardSpec, LightSpec, PhoneSpec, PhotoSpec, RuleKind, StripSpec

_SIZES = {
    "full": (3264, 2448),
    "large": (2592, 1944),
    "middling": (2304, 1728),
    "medium": (2016, 1512),
    "small": (1024, 768),
}


def draw_photo(
    seed: int,
    board: BoardSpec,
    *,
    rule: RuleKind = "strip",
    face: int = 1,
    size: Literal["full", "large", "middling", "medium", "small"] = "full",
    floor: str | None = None,
    light: str | None = None,
    orientation: int | None = None,
    end_over_end: bool | None = None,
    strip: StripSpec | None = None,
    phone: PhoneSpec | None = None,
    like: PhotoSpec | None = None,
    rule_on: Literal["floor", "face"] = "floor",
) -> PhotoSpec:
    """Return a photograph drawn at random that shows the whole board and rule.

    ``strip`` keeps one printed strip (or rule) over several photos: print and joints are its own;
    ``phone`` keeps one lens. ``like`` takes one more photo in another one's place: the same rule,
    floor and light, and, of the same face, the board left as it lies. ``rule_on`` lays the rule
    beside the board or along one edge of its face.
    """
    rng = np.random.default_rng((seed, 23, face))
    long_px, short_px = _SIZES[size]
    turn = orientation or int(rng.choice([1, 1, 1, 3, 6, 8]))
    portrait = turn in (6, 8)
    width, height = (short_px, long_px) if portrait else (long_px, short_px)
    ruler = like.rule if like else strip or draw_rule(seed, board, rule, on=rule_on)
    place = _draw_place(rng, board, ruler)
    if like and like.face == face:
        place = like.board_x, like.board_y, like.board_deg
    lens = phone or draw_phone(seed)
    camera = _draw_camera(rng, board, ruler, (width, height), portrait, place, lens)
    flip = bool(rng.random() < 0.4) if end_over_end is None else end_over_end
    turned_round = flip if face == 2 else False
    if ruler.kind != "strip" and face == 1:
        turned_round = _end_a_would_be_right(camera, place[0], place[1], board)
    if like and like.face == face:
        turned_round = like.reversed
    kinds = ("sun", "shade", "indoor")
    bright = light or str(rng.choice(kinds))
    ground = floor or str(rng.choice(["concrete", "plywood", "grass", "asphalt"]))
    if bright == "indoor" and ground in ("grass", "asphalt"):
        bright = "shade"
    casters = ["", "", "person", "tree"]
    lamp = LightSpec(
        kind=bright,  # type: ignore[arg-type]
        azimuth_deg=float(rng.uniform(0, 360)),
        elevation_deg=float(rng.uniform(28, 62)),
        strength=float(rng.uniform(0.75, 1.0)),
        warmth=float(rng.normal(0.1, 0.35)),
        caster=str(rng.choice(casters)) if bright == "sun" else "",  # type: ignore[arg-type]
        seed=int(rng.integers(1 << 30)),
    )
    return PhotoSpec(
        seed=seed,
        face=face,
        camera=camera,
        rule=ruler,
        light=like.light if like else lamp,
        floor=like.floor if like else ground,  # type: ignore[arg-type]
        board_x=place[0],
        board_y=place[1],
        board_deg=place[2],
        reversed=turned_round,
        noise=float(rng.uniform(0.5, 1.3)),
        blur_px=float(rng.uniform(0.4, 0.68)) * (1.0 if size == "full" else 0.8),
        jpeg_quality=int(rng.integers(74, 90)),
        orientation=turn,
        focal_35mm=round(lens.focal_35mm),
        focal_mm=round(lens.focal_35mm / 6.4, 2),
        ground_seed=like.ground_seed if like else seed,
        taken=f"2026:05:{int(rng.integers(10, 28))} {int(rng.integers(9, 18)):02d}:"
        f"{int(rng.integers(60)):02d}:{int(rng.integers(60)):02d}",
    )


def draw_phone(seed: int) -> PhoneSpec:
    """Return a phone's lens drawn at random."""
    rng = np.random.default_rng((seed, 31))
    k1, k2 = float(rng.normal(0.0, 0.018)), float(rng.normal(0, 0.008))
    p1, p2 = (float(v) for v in rng.normal(0, 1.5e-4, 2))
    off = rng.normal(0, 18 / 4032, 2)
    return PhoneSpec(
        focal_35mm=float(rng.uniform(24, 28)),
        stretch=float(rng.normal(1, 0.012)),
        lens=(k1, k2, 0.0, p1, p2),
        centre_off=(float(off[0]), float(off[1])),
    )


def _draw_place(
    rng: np.random.Generator, board: BoardSpec, ruler: StripSpec
) -> tuple[float, float, float]:
    """Return where the board's middle lies and its slant: on the +y side, 20-80 mm off."""
    slant = float(rng.normal(0, 1.2))
    apart = float(rng.uniform(24, 80)) + np.radians(abs(slant)) * board.length_mm / 2
    near = max(ruler.width_mm, ruler.batten_width if ruler.batten_mm else 0) / 2
    board_y = near + apart + board.width_mm / 2 + abs(board.crook)
    if ruler.on == "face":
        slant = float(rng.normal(0, 0.15))
        half = max(ruler.width_mm, ruler.batten_width if ruler.batten_mm else 0) / 2
        board_y = max(board.width_mm / 2 - half - float(rng.uniform(6, 14)), 0.0)
        spare = board.length_mm - ruler.length_mm
        return ruler.length_mm / 2 + float(rng.uniform(-0.3, 0.3)) * spare, board_y, slant
    spare = ruler.length_mm - board.length_mm
    board_x = ruler.length_mm / 2 + float(rng.uniform(-0.4, 0.4) * min(abs(spare), 120))
    if spare > 160:
        board_x = board.length_mm / 2 + float(rng.uniform(20, 90))
    if ruler.kind == "none":
        board_x, board_y = board.length_mm / 2, 0.0
    return float(board_x), float(board_y), slant


def draw_rule(
    seed: int, board: BoardSpec, rule: RuleKind, *, on: Literal["floor", "face"] = "floor"
) -> StripSpec:
    """Return a strip, printed, glued and taped with its errors; or a plain steel rule.

    For the floor the strip is glued on a batten about as thick as the board; on the face it lies
    as bare paper, all of it on the wood.
    """
    rng = np.random.default_rng((seed, 37))
    if rule == "none":
        return StripSpec("none", length_mm=board.length_mm, width_mm=0.0, batten_width=0.0)
    if rule == "plain":
        return StripSpec(
            "plain",
            length_mm=36 * IN,
            batten_width=0.0,
            width_mm=28.0,
            thickness_mm=1.0,
            seed=seed,
            on=on,
        )
    pieces = int(np.clip(np.ceil((board.length_mm + 60) / 250), 4, 10))
    if on == "face":
        pieces = int(np.clip((board.length_mm - 20) // 250, 3, 10))
    joints = tuple(float(v) for v in np.round(rng.normal(0, 0.3, pieces - 1), 3))
    along = float(rng.normal(0, 0.002))
    true_length = (1 + along) * 250.0 * pieces + sum(joints)
    return StripSpec(
        "strip",
        length_mm=250.0 * pieces,
        batten_mm=float(np.clip(round(rng.normal(board.thickness_mm, 3)), 12, 33))
        * (on == "floor"),
        batten_width=float(rng.uniform(62, 70)),
        print_along=along,
        print_across=float(rng.normal(0, 0.002)),
        joints=joints,
        sag=float(rng.normal(0, 0.6)),
        crook=float(rng.normal(0, 0.6)),
        taped_mm=round(float(true_length + rng.normal(0, 0.6)) * 2) / 2,
        thickness_mm=0.1,
        seed=seed,
        on=on,
    )


def _draw_camera(
    rng: np.random.Generator,
    board: BoardSpec,
    ruler: StripSpec,
    size: tuple[int, int],
    portrait: bool,
    place: tuple[float, float, float],
    phone: PhoneSpec,
) -> Camera:
    """Stand beside the board and step back until all of it is in the picture."""
    long_px = max(size)
    true_focal = phone.focal_35mm * float(np.hypot(*size)) / 43.27 * phone.stretch
    # The stabiliser moves the picture's middle a little from photo to photo.
    offset = np.array(phone.centre_off) * long_px + rng.normal(0, 6 / 4032, 2) * long_px
    board_x, board_y, slant = place
    corners = _corners(board, ruler, board_x, board_y, slant)  # a warped board lies a little higher
    middle = np.array([corners[:, 0].mean(), corners[:, 1].mean(), 0.0])
    middle += np.array([*rng.normal(0, 75, 2), 0.0])
    stand = float(rng.choice([-90.0, 90.0], p=[0.65, 0.35])) + float(rng.normal(0, 9))
    if portrait:
        stand = float(rng.choice([180.0, 0.0])) + float(rng.normal(0, 7))
    tilt = float(rng.uniform(2, 25 if portrait else 40))
    roll = float(rng.normal(0, 3.2))
    spare = float(rng.uniform(1.0, 1.1))
    away = 900.0
    while True:
        camera = _aimed(middle, away, tilt, stand, roll, true_focal, offset, size, phone)
        seen = camera.project(corners)
        edge = 0.02 * long_px
        inside = (seen > edge) & (seen < np.array(size) - 1 - edge)
        if inside.all() and away * np.cos(np.radians(tilt)) >= 1100:
            # Nobody stands at the nearest place from which all can be seen.
            return _aimed(middle, spare * away, tilt, stand, roll, true_focal, offset, size, phone)
        away *= 1.02
        if away > 3200:  # a steep view of a long board: stand more upright over it
            tilt, away = tilt * 0.7, 1200.0


def _aimed(
    middle: np.ndarray,
    away: float,
    tilt: float,
    stand: float,
    roll: float,
    focal: float,
    offset: np.ndarray,
    size: tuple[int, int],
    phone: PhoneSpec,
) -> Camera:
    centre = ((size[0] - 1) / 2 + offset[0], (size[1] - 1) / 2 + offset[1])
    return aim(
        middle, away, tilt, stand, roll, focal=focal, centre=centre, size=size, lens=phone.lens
    )


def _corners(
    board: BoardSpec, ruler: StripSpec, board_x: float, board_y: float, slant: float
) -> np.ndarray:
    half = np.array([board.length_mm / 2 + 25, board.width_mm / 2 + 10])
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    a = np.radians(slant)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    points = signs * half @ turn.T + [board_x, board_y]
    if ruler.kind != "none":
        w = max(ruler.width_mm, ruler.batten_width if ruler.batten_mm else 0) / 2
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
