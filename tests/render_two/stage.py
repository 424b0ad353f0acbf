"""What stands before the camera: floor, board and strip as one height map with textures."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_two.face import cut_face
from tests.render_two.flat import seen
from tests.render_two.ground import KINDS, floor
from tests.render_two.light import lit
from tests.render_two.noise import cloud, ease, read
from tests.render_two.paint import absorbed
from tests.render_two.paper import MM_PER_PX as PAPER_MM
from tests.render_two.paper import strip_picture
from tests.render_two.pigment import linear, reflectance
from tests.render_two.sawing import shade

_MAP_MM = 1.0
_EDGE_MM = 90.0
_FLOOR_MM = 1.5


@dataclass(frozen=True, eq=False)
class Stage:
    """Textures with the light already on them, and the height of things over the floor.

    ``high`` is a map of heights (mm) with its first pixel at ``corner``; ``cores`` tell where
    board and strip are level all round, ``about`` fades out with the distance from them; ``face``
    the lit face (rows, columns, 3) in its own view, with its ``share`` of wood and ``drop`` of
    wane.
    """

    plank: object
    turned: str
    origin: tuple[float, float]
    angle: float
    batten: float
    strip_true_mm: float
    light: object
    high: np.ndarray
    cores: tuple[np.ndarray, np.ndarray]
    about: np.ndarray
    is_strip: np.ndarray
    corner: np.ndarray
    face: np.ndarray
    share: np.ndarray
    drop: np.ndarray
    face_origin: tuple[float, float]
    face_mm: float
    ground: np.ndarray
    ground_origin: np.ndarray
    paper: np.ndarray
    curtain: tuple[float, float, float, float] | None

    def is_near(self, camera, left, top, w, h):
        """Return whether a tile of the picture may show the board or the strip."""
        corners = np.array([[left, top], [left + w, top], [left, top + h], [left + w, top + h]])
        ways = camera.ways(corners[:, 0], corners[:, 1])
        spots = camera.eye + ways * (-camera.eye[2] / ways[:, 2])[:, None]
        low, up = spots[:, :2].min(axis=0), spots[:, :2].max(axis=0)
        far = self.corner + np.array(self.high.shape[::-1]) * _MAP_MM
        return bool((up > self.corner + 40).all() and (low < far - 40).all())

    def look(self, ways, eye, near):
        """Return light (n, 3) along viewing directions from the eye."""
        foot = (eye + ways * (-eye[2] / ways[:, 2])[:, None]).astype(np.float32)
        if not near:
            return self._floor(foot, np.zeros(len(foot), bool))
        level = np.full(len(ways), -1.0, np.float32)
        for height, core in ((self.plank.thickness, self.cores[0]), (self.batten, self.cores[1])):
            on = eye[:2] + ways[:, :2] * ((height - eye[2]) / ways[:, 2])[:, None]
            level[self._map(core, on) > 0.99] = height
        about = self._map(self.about, foot[:, :2])
        at = np.flatnonzero((level < 0) & (about > 0.6))
        if at.size:
            level[at] = self._march(ways[at], eye, foot[at])
        colour = np.zeros((len(ways), 3), np.float32)
        bare = level < 0
        colour[bare] = self._floor(foot[bare], about[bare] > 0.2)
        hits = np.flatnonzero(~bare)
        if hits.size:
            share = ((level[hits] - eye[2]) / ways[hits, 2])[:, None]
            spot = eye + ways[hits] * share
            colour[hits] = self._things(spot[:, :2], level[hits], eye, ways[hits])
        return colour

    def _march(self, ways, eye, foot):
        """Return the height at which each direction meets board or strip, -1 where none."""
        top = max(self.plank.thickness, self.batten)
        at_top = eye[:2] + ways[:, :2] * ((top - eye[2]) / ways[:, 2])[:, None]
        level = np.full(len(ways), -1.0, np.float32)
        for z in np.linspace(top, 0.0, 25):
            spot = at_top + (foot[:, :2] - at_top) * ((top - z) / top)
            hit = (level < 0) & (self._height(spot) >= max(z - 0.02, 0.4))
            level[hit] = z
        return level

    def _map(self, table, spot):
        column, row = ((spot - self.corner) / _MAP_MM).T
        return read(table, column, row, cv2.BORDER_CONSTANT)

    def _height(self, spot):
        return self._map(self.high, spot)

    def _floor(self, foot, may_be_dark):
        column, row = ((foot[:, :2] - self.ground_origin) / _FLOOR_MM).T
        base = read(self.ground, column, row, cv2.BORDER_REFLECT)
        dark = np.ones(len(foot), np.float32)
        sun = np.array([self.light.toward[0], -self.light.toward[1]]) / self.light.toward[2]
        top = max(self.plank.thickness, self.batten)
        near = np.flatnonzero(may_be_dark)
        for z in np.linspace(1, top, 7) if near.size else ():
            hidden = self._height(foot[near, :2] + sun * z) > z
            dark[near[hidden]] = 0.0
        dark = dark * self._curtain(foot)
        return lit(self.light, base, np.ones(len(foot), np.float32), dark)

    def _curtain(self, spot):
        """Return 1 in the open, less in the shadow of something out of the picture."""
        if self.curtain is None:
            return np.ones(len(spot), np.float32)
        a, b, c, soft = self.curtain
        return 1 - 0.9 * ease(a * spot[:, 0] + b * spot[:, 1] + c, -soft, soft)

    def _things(self, spot, level, eye, ways):
        column, row = ((spot[:, :2] - self.corner) / _MAP_MM).T
        of_strip = read(self.is_strip, column, row) > 0.5
        colour = np.zeros((len(spot), 3), np.float32)
        if of_strip.any():
            colour[of_strip] = self._strip(spot[of_strip], level[of_strip], eye, ways[of_strip])
        board = ~of_strip
        if board.any():
            colour[board] = self._board(spot[board], level[board], eye, ways[board])
        return colour

    def _strip(self, spot, level, eye, ways):
        on = eye + ways * ((self.batten - eye[2]) / ways[:, 2])[:, None]
        column, row = on[:, 0] / PAPER_MM - 0.5, (30 - on[:, 1]) / PAPER_MM - 0.5
        inside = (on[:, 0] > 0) & (on[:, 0] < self.strip_true_mm) & (np.abs(on[:, 1]) < 30)
        tone = read(self.paper, column, row)[:, None] * np.ones(3, np.float32)
        wood = linear((176, 150, 112)) * 0.7
        colour = np.where(inside[:, None], tone, wood)
        dark = self._curtain(on) * np.where(inside, 1.0, 0.35)
        return lit(self.light, colour.astype(np.float32), np.ones(len(on), np.float32), dark)

    def _view(self, on):
        """Return the face's own mm of reference mm."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        x, y = on[:, 0] - self.origin[0], on[:, 1] - self.origin[1]
        return np.column_stack([c * x + s * y, s * x - c * y])

    def _board(self, spot, level, eye, ways):
        on = eye + ways * ((self.plank.thickness - eye[2]) / ways[:, 2])[:, None]
        flat = (self._view(on) - self.face_origin) / self.face_mm
        is_face = read(self.share, flat[:, 0], flat[:, 1], cv2.BORDER_CONSTANT) > 0.5
        is_face &= read(self.drop, flat[:, 0], flat[:, 1]) < 0.3
        here = (self._view(spot) - self.face_origin) / self.face_mm
        deep = self.plank.thickness - level
        slope = read(self.drop, here[:, 0], here[:, 1])
        is_wane = ~is_face & (slope > 0.3) & (np.abs(slope - deep) < 6)
        at = np.where(is_wane[:, None], here, flat)
        colour = read(self.face, at[:, 0], at[:, 1])
        side = ~is_face & ~is_wane
        if side.any():
            colour[side] = self._side(self._view(spot[side]), level[side])
        dark = self._curtain(spot)
        shut = 1 - self.light.direct
        return colour * (shut + self.light.direct * dark)[:, None]

    def _side(self, view, level):
        """Return light from edges and ends: wood as the saw left it, seen aslant."""
        plank = self.plank
        x, y = view.T
        if self.turned == "sideways":
            y = plank.width - y
        elif self.turned == "end_over_end":
            x = plank.length - x
        z = plank.thickness - level
        if self.turned != "not":
            z = level
        wood = plank.solid.wood(np.clip(x, 0, plank.length), np.clip(y, 0, plank.width), z)
        seed = np.random.default_rng(plank.seed)
        colour = reflectance(absorbed(plank, wood, seed.standard_normal(len(x)) * 0.5))
        is_end = (x < 3) | (x > plank.length - 3)
        colour = colour * np.where(is_end, 0.62, 0.78)[:, None]
        toward = np.full(len(x), 0.55, np.float32)
        return lit(self.light, colour.astype(np.float32), toward, np.ones(len(x), np.float32))


def set_stage(rng, plank, face, turned, origin, angle, batten, strip_mm, light, camera) -> Stage:
    """Return the stage with a face cut as finely as the camera will see it."""
    mm = float(np.clip(camera.eye[2] / camera.f * 0.62, 0.3, 0.55))
    albedo, height, wood, drop, face_origin = seen(cut_face(plank, face, mm), plank, turned)
    # In the face's view y runs down; the lamp is told in the picture's frame with y up.
    facing = shade(height, mm, light.toward)
    lit_face = lit(light, albedo, facing, np.ones(wood.shape, np.float32)).astype(np.float32)
    paper, strip_true = strip_picture(strip_mm)
    corner = np.array([-_EDGE_MM, -30 - _EDGE_MM])
    far = np.array([max(strip_true, plank.length + origin[0]) + _EDGE_MM, origin[1] + _EDGE_MM])
    size = np.ceil((far - corner) / _MAP_MM).astype(int)
    gx, gy = np.meshgrid(
        np.arange(size[0]) * _MAP_MM + corner[0], np.arange(size[1]) * _MAP_MM + corner[1]
    )
    c, s = np.cos(angle), np.sin(angle)
    x, y = gx - origin[0], gy - origin[1]
    column = (c * x + s * y - face_origin[0]) / mm
    row = (s * x - c * y - face_origin[1]) / mm
    solid = (wood * (plank.thickness - np.clip(drop, 0, plank.thickness - 1))).astype(np.float32)
    high = read(solid, column.ravel(), row.ravel(), cv2.BORDER_CONSTANT).reshape(gx.shape)
    strip = (gx >= 0) & (gx <= strip_true) & (np.abs(gy) <= 30)
    high = np.where(strip, batten, high).astype(np.float32)
    near_strip = (np.abs(gy) <= 33).astype(np.float32)
    curtain = None
    if light.direct > 0.4 and rng.random() < 0.35:
        way = rng.uniform(0, 2 * np.pi)
        a, b = np.cos(way), np.sin(way)
        through = -(a * rng.uniform(0.2, 0.8) * plank.length + b * rng.uniform(0, 300))
        curtain = (float(a), float(b), float(through), float(rng.uniform(4, 25)))
    spread = camera.eye[2] * 1.1
    tall, wide = int(2.0 * spread / _FLOOR_MM), int((plank.length + 1600) / _FLOOR_MM)
    ground = floor(rng, KINDS[int(rng.integers(len(KINDS)))], (tall, wide), _FLOOR_MM)
    ground = ground * np.exp(0.05 * cloud(rng, (tall, wide), (300, 300)))[..., None]
    ground = ground.astype(np.float32)
    ground = _occluded(ground, high, corner, (-800.0, -spread))
    return Stage(
        plank, turned, origin, angle, batten, strip_true, light, high, *_zones(high, strip, plank),
        near_strip, corner,
        lit_face, wood, drop, face_origin, mm, ground, np.array([-800.0, -spread]), paper, curtain,
    )  # fmt: skip


def _zones(high, strip, plank):
    """Return where board and strip are level all round, and how near a place is to either."""
    flat = ((high > plank.thickness - 0.05) & ~strip).astype(np.uint8)
    square = np.ones((9, 9), np.uint8)
    cores = tuple(
        cv2.erode(m.astype(np.uint8), square, borderValue=0).astype(np.float32)
        for m in (flat, strip)
    )
    away = cv2.distanceTransform((high < 0.4).astype(np.uint8), cv2.DIST_L2, 3) * _MAP_MM
    return cores, np.clip(1 - away / 90.0, 0, 1).astype(np.float32)


def _occluded(ground, high, corner, ground_origin):
    """Return the floor darkened where board and strip hide the sky from it."""
    near = cv2.GaussianBlur((high > 1).astype(np.float32), (0, 0), 9 / _MAP_MM)
    rows, columns = ground.shape[:2]
    gx, gy = np.meshgrid(np.arange(columns), np.arange(rows))
    column = (gx * _FLOOR_MM + ground_origin[0] - corner[0]) / _MAP_MM
    row = (gy * _FLOOR_MM + ground_origin[1] - corner[1]) / _MAP_MM
    hidden = cv2.remap(
        near, column.astype(np.float32), row.astype(np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
    )  # fmt: skip
    return ground * (1 - 0.55 * np.clip(hidden, 0, 1))[..., None]
