"""Made scenes with known truth: a board, a reference and cameras; nothing here is a picture.

Nuisances are drawn at a level (`levels`); the fit gets what a person would have typed and where
noisy marks were seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from scanner.board.measured import Measured
from scanner.vision.evidence.observations import LensPrior
from scanner.vision.evidence.seen import Seen
from scanner.vision.fit.camera import Camera, rotation
from scanner.vision.setup import RuleSize, Setup
from tests.bench.levels import Kind, Level
from tests.bench.made_marks import Shutter, Strip, draw_rule, draw_strip, shoot_rule, shoot_strip

WIDTH, HEIGHT = 4032, 3024
END_NOISE_PX = 0.7
EDGE_NOISE_PX = 0.4
# Grain found again in another photo by correlation: `matched_points` gives no better sd.
TIE_NOISE_PX = 0.4
STATIONS = (0.04, 0.27, 0.50, 0.73, 0.96)
WIDTH_MM = 203.2
KNOTS = 6
# A line fitted over 60 mm of edge moves less than the edge's own single points.
_BORDER_PX = 60


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """The true board in the reference frame (y up): its points and its surface."""

    ends: np.ndarray  # (2, 2)
    edges: np.ndarray  # (stations, 2, 2)
    knots: np.ndarray  # (N, 2)
    ties: np.ndarray  # (N, 2), places whose grain is found in every photo
    middle: np.ndarray
    angle: float
    half: float
    form: np.ndarray  # thickness, roll, pitch, crown, ends

    def world(self, xy: np.ndarray) -> np.ndarray:
        """Return the places in space of points on the face."""
        step = xy - self.middle
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        a = (cos * step[:, 0] + sin * step[:, 1]) / self.half
        b = cos * step[:, 1] - sin * step[:, 0]
        t, roll, pitch, crown, ends = self.form
        z = t + roll * b + pitch * a + crown * (1 - a * a) + ends * a * a
        return np.column_stack([xy, z])

    def turned_over(self) -> Board:
        """Return the board with its other face up, lying where it lay: a bow is now a hollow."""
        thickness, roll, pitch, crown, ends = self.form
        return replace(self, form=np.array([thickness, roll, pitch, ends, crown]))

    @property
    def places(self) -> np.ndarray:
        """What is measured: two ends, both edges at each station, knots."""
        return np.concatenate([self.ends, self.edges.reshape(-1, 2), self.knots])


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What the fit gets, and the truth it never sees."""

    seen: tuple[Seen, ...]
    setup: Setup
    kind: Kind
    board: Board
    length_mm: float
    cameras: tuple[Camera, ...]
    smooth: Smooth
    random: np.random.Generator
    taped: Measured
    strip: Strip | None = None


class Smooth:
    """What no lens model can say: a slow random displacement over the picture."""

    def __init__(self, random: np.random.Generator, size_px: float) -> None:
        self.waves = random.uniform(-1.0, 1.0, (6, 2)) * 2 * math.pi
        self.phases = random.uniform(0, 2 * math.pi, 6)
        self.heights = random.normal(0, 1, (6, 2))
        self.heights *= size_px * math.sqrt(2) / np.sqrt((self.heights**2).sum(axis=0) + 1e-12)

    def __call__(self, pixels: np.ndarray) -> np.ndarray:
        scaled = pixels / np.array([WIDTH, HEIGHT])
        return pixels + np.cos(scaled @ self.waves.T + self.phases) @ self.heights


def _draw_board(
    random: np.random.Generator, level: Level, most_bow: float, length: float, side: float
) -> Board:
    angle = random.normal(0, 0.01)
    middle = np.array([length / 2 + random.uniform(-60, 60), side])
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-along[1], along[0]])
    ends = np.array([middle - along * length / 2, middle + along * length / 2])
    edges = []
    for share in STATIONS:
        place = ends[0] + along * share * length
        half = WIDTH_MM / 2 + random.uniform(-8, 8)
        edges.append([place - across * half, place + across * half])

    def on_face(count: int, reach: float) -> np.ndarray:
        there = ends[0] + random.uniform(reach, 1 - reach, (count, 1)) * length * along
        return there + random.uniform(-0.4, 0.4, (count, 1)) * WIDTH_MM * across

    bow = random.uniform(0, most_bow)
    crown, lift = (bow, 0.0) if random.random() < 0.5 else (0.0, bow)
    thickness = random.uniform(19, 51)
    form = np.array([thickness, random.normal(0, 0.006), random.normal(0, 1.0), crown, lift])
    return Board(
        ends,
        np.array(edges),
        on_face(KNOTS, 0.08),
        on_face(24, 0.03),
        middle,
        angle,
        length / 2,
        form,
    )


def draw_lens(random: np.random.Generator) -> tuple[np.ndarray, LensPrior]:
    """Return a true lens, and what EXIF says: a whole mm of the 35 mm value, up to 4 % off."""
    f = WIDTH * random.uniform(0.66, 0.82)
    middle = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2]) + random.normal(0, 25, 2)
    terms = random.normal(0, 1, 5) * np.array([0.02, 0.01, 0.01, 0.0002, 0.0002])
    diagonal = math.hypot(WIDTH, HEIGHT)
    f35 = round(f * (1 + random.uniform(-0.04, 0.04)) * 43.27 / diagonal)
    prior = LensPrior((WIDTH, HEIGHT), f35 * diagonal / 43.27, 0.023, 0.007 * WIDTH)
    return np.array([f, *middle, *terms]), prior


def _stand(
    lens: np.ndarray,
    aim: np.ndarray,
    turns: tuple[float, float, float],
    must: np.ndarray,
    room: float,
) -> Camera:
    """Return a camera on a line of sight that shows all points it must.

    ``turns`` are tilt, azimuth and roll; ``room`` is its distance over the nearest one that does.
    """
    tilt, azimuth, roll = turns
    down = rotation(np.array([math.pi, 0.0, 0.0]))
    turn = rotation(np.array([0.0, 0.0, -azimuth]))
    R = rotation(np.array([0, 0, roll])) @ rotation(np.array([-tilt, 0, 0])) @ down @ turn
    # Portrait or landscape: the long side of the picture lies along the board.
    if abs(math.sin(azimuth)) > 0.7:
        R = rotation(np.array([0, 0, math.pi / 2])) @ R
    distance = 1200.0
    while distance < 12000:
        camera = Camera(lens, R, np.array([0, 0, distance]) - R @ aim)
        pixels = camera.project(must)
        if np.isfinite(pixels).all() and in_picture(pixels, _BORDER_PX).all():
            return Camera(lens, R, np.array([0, 0, distance * room]) - R @ aim)
        distance *= 1.04
    raise RuntimeError("no place for the camera")


def project(camera: Camera, points: np.ndarray) -> np.ndarray:
    """Return pixels of points, NaN far off the line of sight: there the lens terms fold back."""
    seen = points @ camera.R.T + camera.t
    ahead = (seen[:, 2] > 0) & (np.hypot(seen[:, 0], seen[:, 1]) < seen[:, 2])
    return np.where(ahead[:, None], camera.project(points), np.nan)


def in_picture(pixels: np.ndarray, border: float = 0.0) -> np.ndarray:
    """Return which pixels lie inside the picture, so far from its border."""
    low = np.nan_to_num(pixels, nan=-1e6) >= border
    high = np.nan_to_num(pixels, nan=1e6) <= np.array([WIDTH, HEIGHT]) - 1 - border
    return np.asarray((low & high).all(axis=1))


def _draw_cameras(
    random: np.random.Generator,
    kind: Kind,
    level: Level,
    lens: np.ndarray,
    board: Board,
    along: float,
) -> tuple[Camera, ...]:
    corners = board.world(np.concatenate([board.edges[0], board.edges[-1], board.ends]))
    strip = np.array([[0, -35, 0], [along, -35, 0]])
    show = np.concatenate([corners, strip]) if kind.reference == "strip" else corners
    cameras = []
    other_side = False
    for photo in range(kind.photos):
        own = lens.copy()
        if kind.photos > 1:
            own[0] *= 1 + random.normal(0, 0.003)
            own[1:3] += random.normal(0, 8, 2)
        roll, room = random.normal(0, 0.05), 1.0
        if kind.overhead:
            share = photo / (kind.photos - 1)
            x, reach = share * along, 0.66 * along / (kind.photos - 1)
            y = (board.middle[1] - 35) / 2
            aim = np.array([x, y, board.form[0]]) + np.array([*random.normal(0, 30, 2), 0.0])
            must = np.array([[x + s * reach, v, 0.0] for s in (-1, 1) for v in (-40, 2 * y + 75)])
            tilt, azimuth = math.radians(random.uniform(0, 5)), random.uniform(-0.1, 0.1)
        else:
            aim = show.mean(axis=0) + np.array([*random.normal(0, 30, 2), 0.0])
            must = show
            tilt = math.radians(random.uniform(kind.least_tilt_deg, level.most_tilt_deg))
            room = random.uniform(1.0, kind.room)
            azimuth = random.uniform(-0.5, 0.5) + (math.pi if photo % 2 else 0.0)
            if photo == 0:
                other_side = random.random() < 0.5
            # All of them, so that every second photo is taken across the board from the first.
            azimuth += math.pi if other_side else 0.0
        cameras.append(_stand(own, aim, (tilt, azimuth, roll), must, room))
    return tuple(cameras)


def draw_scene(
    seed: int | tuple[int, ...],
    kind: Kind,
    level: Level,
    phone: tuple[np.ndarray, LensPrior] | None = None,
    other: Scene | None = None,
) -> Scene:
    """Return a scene from a seed; ``phone`` is a true lens with its prior, else drawn too.

    ``other`` is a scene of one face: this one then shows the other face of that board beside the
    same strip, as it was typed in there.
    """
    random = np.random.default_rng(seed)
    length = (kind.length_ft or random.uniform(2, 12)) * 304.8
    most_bow = level.most_bow_mm if kind.most_bow_mm is None else kind.most_bow_mm
    side = WIDTH_MM / 2 - 38 if kind.on_face else 200.0 + random.uniform(0, 60)
    board = _draw_board(random, level, most_bow, length, side)
    if other is not None:
        length, board = other.length_mm, other.board.turned_over()
    thickness = Measured(
        board.form[0] - random.normal(0, level.height_sd_mm), 2 * level.height_sd_mm
    )
    if other is not None:
        thickness = other.setup.thickness
    setup = Setup(thickness=thickness, rule_on="face" if kind.on_face else "floor")
    if kind.bow_said:
        setup = replace(setup, most_bow_mm=most_bow)
    lens, prior = draw_lens(random) if phone is None else phone
    pieces = max(2, math.ceil((length - 60) / 250))
    cameras = _draw_cameras(random, kind, level, lens, board, pieces * 250.0)
    smooth = Smooth(random, level.smooth_px)

    def shoot(camera: Camera, points: np.ndarray, noise: float) -> np.ndarray:
        pixels = smooth(project(camera, points))
        return np.asarray(pixels + random.normal(0, noise, pixels.shape))

    shutter = Shutter(shoot, in_picture)
    strip = None
    if other is not None and other.strip is not None:
        strip = replace(other.strip, face=board if kind.on_face else None)
    if kind.reference == "strip":
        strip = strip or draw_strip(random, kind, level, board, pieces)
        seen = [
            Seen("photo", prior, markers=shoot_strip(random, camera, shutter, strip, level))
            for camera in cameras
        ]
        taped = Measured(strip.length_mm + random.normal(0, level.tape_sd_mm), 2 * level.tape_sd_mm)
        is_taped = level.strip_taped if kind.strip_taped is None else kind.strip_taped
        if other is not None:
            setup = replace(setup, strip_taped=other.setup.strip_taped)
        elif is_taped:
            setup = replace(setup, strip_taped=taped)
        setup = replace(setup, batten_mm=None if kind.on_face else strip.batten_mm)
    else:
        size = RuleSize(914.4, 28.0, 1.2)
        places = [(length / 2 - 457 + random.uniform(-300, 300), -40.0)]
        if kind.second:
            places.append((length / 2 - 457 + random.uniform(-300, 300), 520.0))
        rules = [draw_rule(random, size, place) for place in places]
        seen = [
            Seen(
                "photo",
                prior,
                rules=tuple(shoot_rule(random, camera, shutter, one, kind) for one in rules),
            )
            for camera in cameras
        ]
        setup = replace(setup, rule=size, rule2=size if kind.second else None)
    taped_board = Measured(length + random.normal(0, 1.5), 3.0)
    if kind.board_taped:
        setup = replace(setup, taped=taped_board)
    # The reference frame of the fit is the rule's own; distances do not care.
    return Scene(
        tuple(seen), setup, kind, board, length, cameras, smooth, random, taped_board, strip
    )
