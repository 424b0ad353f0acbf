"""Marks of made references as a photo has them, with their errors of printing and laying."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from scanner.geometry.strip_layout import (
    ARM_ORIGIN_MM,
    corner_signs,
    corners_mm,
    id_of,
    joints_before,
)
from scanner.vision.evidence.seen import Bleed, SeenMarkers, SeenRule
from scanner.vision.fit.camera import Camera
from scanner.vision.rule.marker_bleed import LEAST_MODULE_PX, bleed_sd_mm, module_px
from scanner.vision.setup import RuleSize
from tests.bench.levels import Kind, Level

MARK_NOISE_PX = 0.3


class Surface(Protocol):
    """A face that marks may lie on."""

    form: np.ndarray

    def world(self, xy: np.ndarray) -> np.ndarray:
        """Return places in space."""


@dataclass(frozen=True)
class Shutter:
    """How points become pixels, and which pixels lie in the picture."""

    shoot: Callable[[Camera, np.ndarray, float], np.ndarray]
    in_picture: Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True, eq=False)
class Strip:
    """A printed strip and cross arm as they really lie, all errors in mm."""

    pieces: int
    scale: np.ndarray  # along, across
    bleed: np.ndarray
    walk: np.ndarray  # of the joints
    shape: np.ndarray  # lift, sag, crook
    arm: np.ndarray  # joint, x, y, turn; empty without an arm
    batten_mm: float
    face: Surface | None  # where it lies on the board

    @property
    def length_mm(self) -> float:
        """From zero to the last joint line."""
        return float((1 + self.scale[0]) * 250.0 * self.pieces + self.walk[-1])

    def _placed(self, flat: np.ndarray, lift: np.ndarray) -> np.ndarray:
        if self.face is not None:
            return self.face.world(flat) + np.column_stack([0 * lift, 0 * lift, lift])
        return np.column_stack([flat, self.batten_mm + lift])

    def _printed(self, points: np.ndarray, signs: np.ndarray) -> np.ndarray:
        return np.asarray((1 + self.scale) * points + signs * self.bleed)

    def strip_world(self, points: np.ndarray, signs: np.ndarray) -> np.ndarray:
        """Return where points of the strip's drawing lie."""
        lift, sag, crook = self.shape
        a = points[:, 0] / (125.0 * self.pieces) - 1
        flat = self._printed(points, signs)
        flat[:, 0] += self.walk[joints_before(points[:, 0], 250.0)]
        flat[:, 1] += crook * (1 - a * a)
        return self._placed(flat, lift + sag * (1 - a * a))

    def arm_world(self, points: np.ndarray, signs: np.ndarray) -> np.ndarray:
        """Return where points of the arm's drawing lie."""
        joint, x, y, turn = self.arm
        there = self._printed(points, signs)
        there[:, 0] += joint * joints_before(points[:, 0], 150.0)
        cos, sin = math.cos(turn), math.sin(turn)
        flat = there @ np.array([[cos, sin], [-sin, cos]]) + np.array(ARM_ORIGIN_MM) + [x, y]
        return self._placed(flat, np.full(len(flat), self.shape[0]))


def draw_strip(
    random: np.random.Generator, kind: Kind, level: Level, face: Surface, pieces: int
) -> Strip:
    """Return a strip printed, glued and laid at random."""
    sd = np.array([0.1, 0.3, 1.0] if kind.on_face else [0.3, 1.0, 1.0])
    arm = np.array(
        [random.normal(0, level.joint_sd_mm), *random.normal(0, 1, 2), math.pi / 2]
    ) + np.array([0, 0, 0, random.normal(0, 0.01)])
    return Strip(
        pieces=pieces,
        scale=random.normal(0, 0.002, 2),
        bleed=random.normal(0, 0.2, 2),
        walk=np.concatenate([[0.0], np.cumsum(random.normal(0, level.joint_sd_mm, pieces - 1))]),
        shape=random.normal(0, 1, 3) * sd,
        arm=arm if kind.arm else np.zeros(0),
        # As thick as the board, within what lies about.
        batten_mm=round(float(np.clip(face.form[0] + random.uniform(-6, 6), 12, 60))),
        face=face if kind.on_face else None,
    )


def shoot_strip(
    random: np.random.Generator, camera: Camera, shutter: Shutter, strip: Strip, level: Level
) -> SeenMarkers:
    """Return the markers that a photo shows: some are covered, at the hard level a whole run."""
    count = strip.pieces * 5
    numbers = [k for k in range(count) if random.random() >= level.hidden_share]
    if level.hidden_share > 0.3 and count > 17:
        gap = random.integers(5, count - 12)
        numbers = [k for k in numbers if not gap <= k < gap + 8]
    sets = [("A", numbers, strip.strip_world)]
    if len(strip.arm):
        sets.append(("arm", list(range(6)), strip.arm_world))
    ids: list[int] = []
    corners = []
    for piece, some, world in sets:
        points = np.concatenate([corners_mm(k) for k in some])
        signs = np.tile(corner_signs(), (len(some), 1))
        pixels = shutter.shoot(camera, world(points, signs), MARK_NOISE_PX)
        inside = shutter.in_picture(pixels).reshape(-1, 4).all(axis=1)
        ids += [id_of(piece, k) for k, shown in zip(some, inside, strict=True) if shown]
        corners.append(pixels.reshape(-1, 4, 2)[inside])
    seen = np.concatenate(corners)
    # What their codes tell of bleed, as well as the program says it reads them.
    wide = [float(np.median(module_px(seen, axis))) for axis in (0, 1)]
    sd = bleed_sd_mm(wide[0]), bleed_sd_mm(wide[1])
    told = strip.bleed + random.normal(0, 1, 2) * sd
    bleed = Bleed((float(told[0]), float(told[1])), sd) if min(wide) >= LEAST_MODULE_PX else None
    return SeenMarkers(np.array(ids), seen, np.full(len(ids), MARK_NOISE_PX), bleed)


@dataclass(frozen=True, eq=False)
class Rule:
    """A plain rule as it really lies."""

    size: RuleSize
    place: tuple[float, float]
    turn: float
    scale: np.ndarray
    bleed: np.ndarray
    height: float
    sag: float

    def world(self, points: np.ndarray, signs: np.ndarray) -> np.ndarray:
        """Return where points of the rule lie."""
        flat = self.scale * points + signs * self.bleed
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        flat = flat @ np.array([[cos, sin], [-sin, cos]]) + np.array(self.place)
        a = points[:, 0] / (self.size.length_mm / 2) - 1
        return np.column_stack([flat, self.height + self.sag * (1 - a * a)])


def draw_rule(random: np.random.Generator, size: RuleSize, place: tuple[float, float]) -> Rule:
    """Return a rule laid at random: 0.02 % long, 0.2 % wide, rounded edges."""
    return Rule(
        size,
        place,
        turn=random.normal(0, 0.02),
        scale=1 + random.normal(0, 1, 2) * np.array([0.0002, 0.002]),
        bleed=random.normal(0, 0.2, 2),
        height=1.2 + random.normal(0, 0.4),
        sag=random.normal(0, 0.7),
    )


def _rule_points(
    size: RuleSize, *, both_edges: bool
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return points (N, 2), outward signs (N, 2), whether read along, and their noise, px."""
    length, half = size.length_mm, (size.width_mm or 0.0) / 2
    rows: list[tuple[float, float, float, float, bool, float]] = []
    for side in (-1.0, 1.0):
        steps = np.linspace(0.02, 0.98, 12) * length
        rows += [(float(x), side * half, 0.0, side, False, 0.35) for x in steps]
    rows += [(0.0, 0.0, -1.0, 0.0, True, 0.9), (length, 0.0, 1.0, 0.0, True, 0.9)]
    # Found on rendered photos to 0.1 to 0.2 px where both edges carry them.
    for y, sd in ((9.0, 0.4), (-9.0, 0.4)) if both_edges else ((0.0, 0.7),):
        rows += [(inch * 25.4, y, 0.0, 0.0, True, sd) for inch in range(1, 36)]
    table = np.array(rows, dtype=float)
    return table[:, :2], table[:, 2:4], table[:, 4].astype(bool), table[:, 5]


def shoot_rule(
    random: np.random.Generator, camera: Camera, shutter: Shutter, rule: Rule, kind: Kind
) -> SeenRule:
    """Return a rule's edges, ends and graduations as read in a photo."""
    points, signs, along, noise = _rule_points(rule.size, both_edges=kind.both_edges)
    exact = camera.project(rule.world(points, signs))
    ahead = camera.project(rule.world(points + np.array([1.0, 0.0]), signs)) - exact
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    across = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    directions = np.where(along[:, None], ahead, across)
    pixels = shutter.shoot(camera, rule.world(points, signs), 0.0)
    # Noise only along what is measured; the other way it is free.
    pixels = pixels + directions * (random.normal(0, 1, len(points)) * noise)[:, None]
    length, width = rule.size.length_mm, rule.size.width_mm or 0.0
    ends = np.array([[0, -1], [0, 1], [length, 1], [length, -1]]) * np.array([1, width / 2])
    corners = shutter.shoot(camera, rule.world(ends, np.zeros((4, 2))), 1.0)
    return SeenRule(points, signs, pixels, directions, noise, corners, length, width, ticks=35)
