"""Scenes of projected, noisy marks with known truth, put through the real fit.

Nuisances are drawn at three levels (good, typical, hard); nothing here looks at a picture, so
hundreds of scenes are cheap. Run: ``python -m tests.bench.projected --scenes 200 --seed 1000``.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass, replace

import numpy as np

from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.geometry.strip_layout import (
    ARM_ORIGIN_MM,
    corner_signs,
    corners_mm,
    id_of,
    joints_before,
)
from scanner.vision.assemble import Seen, SeenMarkers, SeenRule
from scanner.vision.camera import Camera, rotation
from scanner.vision.observations import FacePoint, LensPrior
from scanner.vision.scale import ScaleFit, fit_seen, with_board_ends, with_face_points
from scanner.vision.scale import with_taped_length as taped_refit
from scanner.vision.setup import RuleSize, Setup

WIDTH, HEIGHT = 4032, 3024
MARK_NOISE_PX = 0.3
END_NOISE_PX = 0.7
EDGE_NOISE_PX = 0.4
STATIONS = (0.04, 0.27, 0.50, 0.73, 0.96)


@dataclass(frozen=True, slots=True)
class Level:
    """How carefully the photos were taken."""

    tape_sd_mm: float
    most_bow_mm: float
    most_tilt_deg: float
    height_sd_mm: float
    hidden_share: float
    smooth_px: float
    joint_sd_mm: float


LEVELS = {
    "good": Level(0.5, 2.0, 25.0, 0.5, 0.0, 0.3, 0.15),
    "typical": Level(1.0, 5.0, 40.0, 1.0, 0.2, 0.5, 0.3),
    "hard": Level(1.0, 12.0, 60.0, 1.5, 0.4, 0.8, 0.5),
}


@dataclass(frozen=True, slots=True)
class Kind:
    """What lies beside the board, and what was typed in."""

    reference: str  # strip, rule
    on_face: bool = False
    arm: bool = False
    second: bool = False
    strip_taped: bool = True
    board_taped: bool = False
    photos: int = 1
    joint_points: bool = False
    both_edges: bool = False


KINDS = {
    "strip on floor": Kind("strip"),
    "strip on floor, not taped": Kind("strip", strip_taped=False),
    "strip on face + arm": Kind("strip", on_face=True, arm=True),
    "strip + arm": Kind("strip", arm=True),
    "strip, 2 photos, read off one picture": Kind("strip", photos=2),
    "strip + arm, 2 photos, points in both": Kind("strip", arm=True, photos=2, joint_points=True),
    "rule, ticks": Kind("rule"),
    "rule, ticks + taped length": Kind("rule", board_taped=True),
    "rules on both sides, ticks": Kind("rule", second=True),
    "rule, ticks on both edges": Kind("rule", both_edges=True),
    "rule, ticks on both edges + taped length": Kind("rule", board_taped=True, both_edges=True),
}


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """The true board in the reference frame (y up): its points and its surface."""

    ends: np.ndarray
    edges: np.ndarray  # (stations, 2, 2)
    knots: np.ndarray  # (N, 2)
    middle: np.ndarray
    angle: float
    half: float
    form: np.ndarray  # thickness, roll, pitch, crown, ends

    def world(self, xy: np.ndarray) -> np.ndarray:
        step = xy - self.middle
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        a = (cos * step[:, 0] + sin * step[:, 1]) / self.half
        b = cos * step[:, 1] - sin * step[:, 0]
        t, roll, pitch, crown, ends = self.form
        z = t + roll * b + pitch * a + crown * (1 - a * a) + ends * a * a
        return np.column_stack([xy, z])


def _draw_board(random: np.random.Generator, level: Level, length: float, side: float) -> Board:
    width = 203.2
    angle = random.normal(0, 0.01)
    middle = np.array([length / 2 + random.uniform(-60, 60), side])
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-along[1], along[0]])
    ends = np.array([middle - along * length / 2, middle + along * length / 2])
    edges = []
    for share in STATIONS:
        place = ends[0] + along * share * length
        half = width / 2 + random.uniform(-8, 8)
        edges.append([place - across * half, place + across * half])
    knots = ends[0] + random.uniform(0.08, 0.92, (6, 1)) * length * along
    knots = knots + random.uniform(-0.4, 0.4, (6, 1)) * width * across
    bow = random.uniform(0, level.most_bow_mm)
    crown, lift = (bow, 0.0) if random.random() < 0.5 else (0.0, bow)
    thickness = random.uniform(19, 51)
    form = np.array([thickness, random.normal(0, 0.006), random.normal(0, 1.0), crown, lift])
    return Board(ends, np.array(edges), knots, middle, angle, length / 2, form)


class _Smooth:
    """What no lens model can say: a slow random displacement over the picture."""

    def __init__(self, random: np.random.Generator, size_px: float) -> None:
        self.waves = random.uniform(-1.0, 1.0, (6, 2)) * 2 * math.pi
        self.phases = random.uniform(0, 2 * math.pi, 6)
        self.heights = random.normal(0, 1, (6, 2))
        self.heights *= size_px * math.sqrt(2) / np.sqrt((self.heights**2).sum(axis=0) + 1e-12)

    def __call__(self, pixels: np.ndarray) -> np.ndarray:
        scaled = pixels / np.array([WIDTH, HEIGHT])
        return pixels + np.cos(scaled @ self.waves.T + self.phases) @ self.heights


def _draw_camera(
    random: np.random.Generator,
    lens: np.ndarray,
    level: Level,
    must_show: np.ndarray,
    azimuth: float,
) -> Camera:
    tilt = math.radians(random.uniform(0, level.most_tilt_deg))
    aim = must_show.mean(axis=0) + np.array([*random.normal(0, 30, 2), 0.0])
    roll = random.normal(0, 0.05)
    down = rotation(np.array([math.pi, 0.0, 0.0]))
    turn = rotation(np.array([0.0, 0.0, -azimuth]))
    R = rotation(np.array([0, 0, roll])) @ rotation(np.array([-tilt, 0, 0])) @ down @ turn
    # Portrait or landscape: the long side of the picture lies along the board.
    if abs(math.sin(azimuth)) > 0.7:
        R = rotation(np.array([0, 0, math.pi / 2])) @ R
    distance = 1200.0
    while True:
        camera = Camera(lens, R, np.array([0, 0, distance]) - R @ aim)
        pixels = camera.project(must_show)
        inside = np.isfinite(pixels).all() and (pixels > 60).all()
        if inside and (pixels < np.array([WIDTH - 60, HEIGHT - 60])).all():
            return camera
        distance *= 1.04
        if distance > 12000:
            raise RuntimeError("no place for the camera")


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What the fit gets, and the truth it never sees."""

    seen: tuple[Seen, ...]
    setup: Setup
    kind: Kind
    board: Board
    length_mm: float
    cameras: tuple[Camera, ...]
    smooth: _Smooth
    random: np.random.Generator
    taped: Measured


def draw_scene(seed: int, kind: Kind, level: Level, length_ft: float = 8.0) -> Scene:
    """Return a scene from a seed."""
    random = np.random.default_rng(seed)
    length = length_ft * 304.8
    side = 203.2 / 2 - 38 if kind.on_face else 200.0 + random.uniform(0, 60)
    board = _draw_board(random, level, length, side)
    thickness_told = board.form[0] - random.normal(0, level.height_sd_mm)
    batten = round(float(np.clip(board.form[0] + random.uniform(-6, 6), 12, 60)))
    f = 4032 * random.uniform(0.66, 0.82)
    lens = np.array(
        [
            f,
            (WIDTH - 1) / 2 + random.normal(0, 25),
            (HEIGHT - 1) / 2 + random.normal(0, 25),
            random.normal(0, 0.02),
            random.normal(0, 0.01),
            random.normal(0, 0.01),
            random.normal(0, 0.0002),
            random.normal(0, 0.0002),
        ]
    )
    # EXIF: whole mm of the 35 mm value, and up to 4 % off.
    diagonal = math.hypot(WIDTH, HEIGHT)
    f35 = round(f * (1 + random.uniform(-0.04, 0.04)) * 43.27 / diagonal)
    prior = LensPrior((WIDTH, HEIGHT), f35 * diagonal / 43.27, 0.023, 0.007 * WIDTH)
    strip_length = math.ceil((length - 60) / 250) * 250.0
    corners = np.concatenate([board.edges[0], board.edges[-1], board.ends])
    show = np.concatenate([board.world(corners), [[0, -35, 0], [strip_length, -35, 0]]])
    if kind.reference == "rule":
        show = board.world(corners)
    smooth = _Smooth(random, level.smooth_px)
    cameras = []
    for photo in range(kind.photos):
        azimuth = random.uniform(-0.5, 0.5) + (math.pi if photo % 2 else 0.0)
        if photo == 0 and random.random() < 0.5:
            azimuth += math.pi
        shaken = lens.copy()
        shaken[0] *= 1 + (random.normal(0, 0.003) if kind.photos > 1 else 0)
        if kind.photos > 1:
            shaken[1:3] += random.normal(0, 8, 2)
        cameras.append(_draw_camera(random, shaken, level, show, azimuth))

    def shoot(camera: Camera, points: np.ndarray, noise: float) -> np.ndarray:
        pixels = smooth(camera.project(points))
        return pixels + random.normal(0, noise, pixels.shape)

    scale_x, scale_y = random.normal(0, 0.002, 2)
    bleed = random.normal(0, 0.2, 2)
    seen = []
    setup = Setup(
        thickness=Measured(thickness_told, 2 * level.height_sd_mm),
        rule_on="face" if kind.on_face else "floor",
    )
    if kind.reference == "strip":
        pieces = round(strip_length / 250)
        joints = random.normal(0, level.joint_sd_mm, pieces - 1)
        walk = np.concatenate([[0.0], np.cumsum(joints)])
        lift, sag, crook = random.normal(0, 0.3), random.normal(0, 1.0), random.normal(0, 1.0)
        arm_joint, arm_place = random.normal(0, level.joint_sd_mm), random.normal(0, 1, 2)
        arm_turn = math.pi / 2 + random.normal(0, 0.01)
        if kind.on_face:
            lift, sag = random.normal(0, 0.1), random.normal(0, 0.3)

        def world_of_strip(points: np.ndarray, signs: np.ndarray) -> np.ndarray:
            a = points[:, 0] / (strip_length / 2) - 1
            x = (1 + scale_x) * points[:, 0] + signs[:, 0] * bleed[0]
            x = x + walk[joints_before(points[:, 0], 250.0)]
            y = (1 + scale_y) * points[:, 1] + signs[:, 1] * bleed[1] + crook * (1 - a * a)
            z = lift + sag * (1 - a * a)
            if kind.on_face:
                return board.world(np.column_stack([x, y])) + np.column_stack([0 * z, 0 * z, z])
            return np.column_stack([x, y, batten + z])

        def world_of_arm(points: np.ndarray, signs: np.ndarray) -> np.ndarray:
            x = (1 + scale_x) * points[:, 0] + signs[:, 0] * bleed[0]
            x = x + arm_joint * joints_before(points[:, 0], 150.0)
            y = (1 + scale_y) * points[:, 1] + signs[:, 1] * bleed[1]
            cos, sin = math.cos(arm_turn), math.sin(arm_turn)
            place = np.array(ARM_ORIGIN_MM) + arm_place
            flat = np.column_stack([cos * x - sin * y, sin * x + cos * y]) + place
            if kind.on_face:
                return board.world(flat) + np.array([0, 0, lift])
            return np.column_stack([flat, np.full(len(flat), batten + lift)])

        for camera in cameras:
            numbers = [k for k in range(pieces * 5) if random.random() >= level.hidden_share]
            if level.hidden_share > 0.3:
                gap = random.integers(5, pieces * 5 - 12)
                numbers = [k for k in numbers if not gap <= k < gap + 8]
            ids = [id_of("A", k) for k in numbers]
            points = np.concatenate([corners_mm(k) for k in numbers])
            signs = np.tile(corner_signs(), (len(numbers), 1))
            pixels = shoot(camera, world_of_strip(points, signs), MARK_NOISE_PX)
            if kind.arm:
                numbers = list(range(6))
                ids += [id_of("arm", k) for k in numbers]
                points = np.concatenate([corners_mm(k) for k in numbers])
                signs = np.tile(corner_signs(), (6, 1))
                there = shoot(camera, world_of_arm(points, signs), MARK_NOISE_PX)
                pixels = np.concatenate([pixels, there])
            markers = SeenMarkers(
                np.array(ids), pixels.reshape(-1, 4, 2), np.full(len(ids), MARK_NOISE_PX)
            )
            seen.append(Seen("photo", prior, markers=markers))
        total = (1 + scale_x) * strip_length + joints.sum()
        taped = Measured(total + random.normal(0, level.tape_sd_mm), 2 * level.tape_sd_mm)
        setup = replace(
            setup,
            batten_mm=None if kind.on_face else float(batten),
            strip_taped=taped if kind.strip_taped else None,
        )
    else:
        size = RuleSize(914.4, 28.0, 1.2)
        starts = [np.array([length / 2 - 457 + random.uniform(-300, 300), -40.0, 0.0])]
        if kind.second:
            starts.append(np.array([length / 2 - 457 + random.uniform(-300, 300), 520.0, 0.0]))
        true_rules = []
        for place in starts:
            place = place + np.array([0, 0, random.normal(0, 0.02)])
            true_rules.append(
                (
                    place,
                    1 + random.normal(0, 0.0002),
                    1 + random.normal(0, 0.002),
                    random.normal(0, 0.2, 2),
                    1.2 + random.normal(0, 0.4),
                    random.normal(0, 0.7),
                )
            )
        for camera in cameras:
            rules = tuple(
                _shoot_rule(camera, shoot, size, truth, kind.both_edges) for truth in true_rules
            )
            seen.append(Seen("photo", prior, rules=rules))
        setup = replace(setup, rule=size, rule2=size if kind.second else None)
    taped_board = Measured(length + random.normal(0, 1.5), 3.0)
    if kind.board_taped:
        setup = replace(setup, taped=taped_board)
    # The reference frame of the fit is the rule's own; distances do not care.
    return Scene(
        tuple(seen), setup, kind, board, length, tuple(cameras), smooth, random, taped_board
    )


def _shoot_rule(camera, shoot, size, truth, both_edges):
    place, scale_x, scale_y, bleed, height, sag = truth
    length, width = size.length_mm, size.width_mm
    cos, sin = math.cos(place[2]), math.sin(place[2])

    def world(points, signs):
        x = scale_x * points[:, 0] + signs[:, 0] * bleed[0]
        y = scale_y * points[:, 1] + signs[:, 1] * bleed[1]
        a = points[:, 0] / (length / 2) - 1
        z = height + sag * (1 - a * a)
        flat = np.column_stack([cos * x - sin * y, sin * x + cos * y]) + place[:2]
        return np.column_stack([flat, z])

    points, signs, along, noise = [], [], [], []
    for side in (-1.0, 1.0):
        for x in np.linspace(0.02, 0.98, 12) * length:
            points.append((x, side * width / 2))
            signs.append((0.0, side))
            along.append(False)
            noise.append(0.35)
    for x, out in ((0.0, -1.0), (length, 1.0)):
        points.append((x, 0.0))
        signs.append((out, 0.0))
        along.append(True)
        noise.append(0.9)
    # Found on rendered photos to 0.1 to 0.2 px where both edges carry them.
    for line_y, sd in ((9.0, 0.4), (-9.0, 0.4)) if both_edges else ((0.0, 0.7),):
        for inch in range(1, 36):
            points.append((inch * 25.4, line_y))
            signs.append((0.0, 0.0))
            along.append(True)
            noise.append(sd)
    points, signs = np.array(points), np.array(signs)
    exact = camera.project(world(points, signs))
    ahead = camera.project(world(points + np.array([1.0, 0.0]), signs)) - exact
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    across = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    directions = np.where(np.array(along)[:, None], ahead, across)
    noise = np.array(noise)
    pixels = shoot(camera, world(points, signs), 0.0)
    # Noise only along what is measured; the other way it is free.
    pixels = (
        pixels
        + directions
        * np.random.default_rng(int(abs(pixels[0, 0]) * 1e6) % 2**32).normal(0, 1, (len(points), 1))
        * noise[:, None]
    )
    corner_points = np.array([[0, -1], [0, 1], [length, 1], [length, -1]]) * np.array(
        [1, width / 2]
    )
    corners = shoot(camera, world(corner_points, np.zeros((4, 2))), 1.0)
    return SeenRule(points, signs, pixels, directions, noise, corners, length, width, ticks=35)


def _shoot_points(scene: Scene, photo: int, xy: np.ndarray, noise: float) -> np.ndarray:
    pixels = scene.smooth(scene.cameras[photo].project(scene.board.world(xy)))
    return pixels + scene.random.normal(0, noise, pixels.shape)


@dataclass(frozen=True, slots=True)
class Outcome:
    """Error and U of one distance, mm."""

    error: float
    u: float


def measure(scene: Scene) -> dict[str, list[Outcome]]:
    """Return errors and U of length, widths and knot distances as the fit gives them."""
    fit = fit_seen(scene.seen, scene.setup, "strip" if scene.kind.reference == "strip" else "plain")
    board = scene.board
    everything = np.concatenate([board.ends, board.edges.reshape(-1, 2), board.knots])
    noise = np.array([END_NOISE_PX] * 2 + [EDGE_NOISE_PX] * 10 + [END_NOISE_PX] * len(board.knots))
    photos = range(len(scene.cameras))
    pixels = [_shoot_points(scene, photo, everything, 1.0) for photo in photos]
    exact = [
        scene.smooth(scene.cameras[photo].project(board.world(everything))) for photo in photos
    ]
    pixels = [e + (p - e) * noise[:, None] for p, e in zip(pixels, exact, strict=True)]
    if scene.kind.joint_points:
        return _measure_jointly(scene, fit, pixels, noise, everything)
    feet = np.array([fit.foot_mm(photo) for photo in photos])
    first = fit.face_from_photo(0, pixels[0])
    nearest = np.linalg.norm(first[:, None] - feet[None], axis=2).argmin(axis=1)

    def places(a_fit: ScaleFit) -> np.ndarray:
        seen = np.array([a_fit.face_from_photo(photo, pixels[photo]) for photo in photos])
        return seen[nearest, np.arange(len(everything))]

    at = places(fit)
    if scene.kind.board_taped:
        fit = taped_refit(fit, at[0], at[1], scene.taped)
    else:
        fit = with_board_ends(fit, at[0], at[1])
    at = places(fit)

    def outcome(i: int, j: int) -> Outcome:
        u = fit.u_between(at[i], at[j], sd_p_px=noise[i], sd_q_px=noise[j])
        true = np.linalg.norm(everything[i] - everything[j])
        return Outcome(float(np.linalg.norm(at[i] - at[j]) - true), u)

    return _pairs(outcome, len(everything))


def _pairs(outcome, count: int) -> dict[str, list[Outcome]]:
    knots = range(12, count)
    between = [(0, k) for k in knots] + [(12, 13), (14, 15), (16, 17)]
    return {
        "length": [outcome(0, 1)],
        "width": [outcome(2 + 2 * s, 3 + 2 * s) for s in range(5)],
        "knots": [outcome(i, j) for i, j in between],
    }


def _measure_jointly(scene, fit, pixels, noise, everything):
    ends = fit.face_from_photo(0, pixels[0][:2])
    fit = with_board_ends(fit, ends[0], ends[1])
    start = fit.face_from_photo(0, pixels[0]) * np.array([1.0, -1.0])
    points = tuple(
        FacePoint(
            tuple((p, *pixels[p][i], noise[i]) for p in range(len(pixels))),
            (float(start[i, 0]), float(start[i, 1])),
        )
        for i in range(len(everything))
    )
    fit = with_face_points(fit, points)

    def outcome(i: int, j: int) -> Outcome:
        value, u = fit.between_points(i, j)
        return Outcome(float(value - np.linalg.norm(everything[i] - everything[j])), u)

    return _pairs(outcome, len(everything))


def _row(name: str, outcomes: list[Outcome]) -> str:
    errors = np.abs([o.error for o in outcomes])
    us = np.array([o.u for o in outcomes])
    inside = 100 * np.mean(errors <= us)
    worst = np.max(errors / us)
    return (
        f"{name:8s} {np.median(errors):5.1f}/{np.percentile(errors, 95):5.1f}/{errors.max():5.1f}"
        f" ({np.median(us):4.1f})  in U {inside:5.1f} %  worst error/U {worst:.1f}"
    )


def main() -> None:
    """Print one table: median / 95th percentile / worst error (median U), share inside U."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scenes", type=int, default=100)
    arguments.add_argument("--seed", type=int, default=1000)
    arguments.add_argument("--levels", default="typical")
    arguments.add_argument("--kinds", default="", help="only kinds that contain this")
    chosen = arguments.parse_args()
    for name, kind in KINDS.items():
        if chosen.kinds not in name:
            continue
        for level in chosen.levels.split(","):
            began = time.perf_counter()
            found: dict[str, list[Outcome]] = {}
            refused = []
            for seed in range(chosen.seed, chosen.seed + chosen.scenes):
                try:
                    outcomes = measure(draw_scene(seed, kind, LEVELS[level]))
                except ScannerError as error:
                    refused.append(str(error))
                    continue
                for what, some in outcomes.items():
                    found.setdefault(what, []).extend(some)
            each = (time.perf_counter() - began) / chosen.scenes
            print(f"{name}, {level}: {len(refused)} refused, {each:.2f} s a scene")
            for what, some in found.items():
                print("  " + _row(what, some))
            for text in refused[:3]:
                print("  refused:", text)


if __name__ == "__main__":
    main()
