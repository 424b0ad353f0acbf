"""The scene, ready to be looked at: rays meet board, rule and floor, and bring light back."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.render.backdrop import Backdrop
from tests.render.bodies import Box, Laid
from tests.render.clutter import Clutter
from tests.render.floor import floor_of
from tests.render.light import Light, contact, irradiance, shadow
from tests.render.noise import F32, noise_2d, smoothstep, tinted
from tests.render.rules import Ruler
from tests.render.shape import Shape
from tests.render.specs import BoardSpec, PhotoSpec
from tests.render.standing import Standing
from tests.render.surface import EDGE_LOW, END_A, FACE_1, FACE_2, Surfaces


class Stage:
    """Everything in the scene, ready to be looked at point by point."""

    def __init__(self, board: BoardSpec, photo: PhotoSpec) -> None:
        self.photo = photo
        self.eye = photo.camera.centre.astype(np.float32)
        self.shape = Shape(board)
        self.surfaces = surfaces_of(board)
        self.laid = Laid(self.shape, photo)
        on_face = photo.rule.on == "face"
        self.ruler = Ruler(photo.rule, self.laid.surface if on_face else None)
        self.box = Box(self.ruler) if photo.rule.kind != "none" else None
        self.light = Light(photo.light)
        self.floor = floor_of(photo.floor, photo.ground_seed)
        reach = board.width_mm / 2 + abs(board.crook) + 180
        self.free = (-180.0, photo.board_y + reach)  # the band kept clear for board and rule
        self.clutter = Clutter(
            photo.ground_seed,
            photo.floor,
            self.free,
            photo.rule.length_mm,
            self.light.slope,
        )
        long = max(photo.rule.length_mm, board.length_mm)
        self.backdrop = Backdrop(
            photo.ground_seed, photo.floor, self.free, long, self.light, self.eye
        )
        self.standing = Standing(
            photo.ground_seed,
            photo.floor,
            self.free,
            photo.rule.length_mm,
            self.light,
            self.backdrop.keeps,
        )
        # The photographer stands in the light, too.
        dim = {"sun": 0.0, "shade": 0.10, "indoor": 0.22}[photo.light.kind]
        self._own_shadow = np.float32(dim)
        self._polish = 0.0 if photo.floor == "grass" else 26.0

    def look(self, u: F32, v: F32, pixel: float) -> tuple[F32, NDArray[np.int8]]:
        """Return linear light (N, 3) seen at photo pixels, and what is seen there.

        ``pixel`` is a sample's size in px. Seen: 0 floor, 1 board, 2 rule, 3 blades, 4 backdrop.
        """
        dx, dy, dz = self.photo.camera.rays(u, v)
        down = -1 / dz  # dz is negative: every ray meets the floor
        fp = self.eye[2] * down * np.float32(pixel / self.photo.camera.focal)
        colour = np.empty((len(u), 3), dtype=np.float32)
        owner = np.zeros(len(u), dtype=np.int8)
        board_hit = self._meet_board(dx * down, dy * down)
        height = np.zeros(len(u), dtype=np.float32)
        owner[board_hit[0]] = 1
        height[board_hit[0]] = board_hit[1]
        if self.box is not None:
            at, z = self.box.meet(self.eye, dx * down, dy * down)
            nearer = z >= height[at]
            at, z = at[nearer], z[nearer]
            owner[at], height[at] = 2, z
        if self.photo.floor == "grass":
            self._overgrow(owner, height, dx * down, dy * down)
        drop = self.eye[2] - height
        wall = self._meet_backdrop(owner, dx * down, dy * down)
        x, y = self.eye[0] + dx * down * drop, self.eye[1] + dy * down * drop
        if wall is not None:
            at, x[at], y[at], height[at] = wall
        for who, shade in (
            (0, self._shade_floor),
            (1, self._shade_board),
            (2, self._shade_rule),
            (3, self._shade_blades),
            (4, self.backdrop.shade),
        ):
            at = np.nonzero(owner == who)[0]
            if len(at):
                size = (
                    fp[at] / np.float32(pixel) if who == 0 else fp[at]
                )  # one look whatever the tile
                colour[at] = shade(x[at], y[at], height[at], size)
        return colour * self._slow_light(x, y), owner

    def _meet_backdrop(
        self, owner: NDArray[np.int8], run: F32, rise: F32
    ) -> tuple[NDArray[np.intp], F32, F32, F32] | None:
        if not self.backdrop.is_there:
            return None
        floor = np.nonzero(owner == 0)[0]
        at, x, y, z = self.backdrop.meet(run[floor], rise[floor])
        if not len(at):
            return None
        owner[floor[at]] = 4
        return floor[at], x, y, z

    def _slow_light(self, x: F32, y: F32) -> F32:
        """Return the slow change of light (N, 3) over the scene, the photographer's part in it."""
        foot = (x - self.eye[0]) ** 2 + (y - self.eye[1]) ** 2
        own = 1 - self._own_shadow * np.exp(-foot / np.float32(2 * 520.0**2))
        return tinted(self.light.falloff(x, y), own)

    def level_light(self, x: F32, y: F32, z: F32) -> F32:
        """Return the light (N, 3) on small level things at points: shadows, sky, slow change."""
        plan, gap = self.laid.plan_and_gap(x, y)
        through = shadow(self.light, x, y, z, self.laid, plan) * self.light.cast(x, y, z)
        if self.box is not None:
            through = through * shadow(self.light, x, y, z, self.box)
        flat = (np.zeros(x.shape, np.float32), np.zeros(x.shape, np.float32), 1.0)
        sky = contact(plan, float(self.laid.thick), gap)
        sky = np.where(z > 1, 1, sky).astype(np.float32)
        past = self.standing.shadows(x, y)
        lit = irradiance(self.light, flat, through * past, sky * past)
        return lit * self._slow_light(x, y)

    def _meet_board(self, run: F32, rise: F32) -> tuple[NDArray[np.intp], F32]:
        """Return which rays meet the board, and at what height (x, y run per mm of descent)."""
        if self.laid.is_far(run, rise, self.eye):
            return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.float32)
        thick, samples = self.laid.thick, 10
        top = np.full(run.shape, thick, dtype=np.float32)
        for _ in range(1 if self.laid.lie.is_flat else 3):  # the face is nearly level
            x, y = self.eye[0] + run * (self.eye[2] - top), self.eye[1] + rise * (self.eye[2] - top)
            top = self.laid.surface(x, y).astype(np.float32)
        mx, my, mz = self.laid.to_model(x, y, top)
        out = self.shape.past(mx, my, mz)
        height = np.full(run.shape, -1.0, dtype=np.float32)
        height[out <= 0] = top[out <= 0]
        slant = np.hypot(run, rise) * thick + 3
        todo = np.nonzero((out > 0) & (out < slant))[0]
        before, before_z, first = out[todo], top[todo], top[todo]
        for share in np.linspace(0, 1, samples + 1, dtype=np.float32)[1:]:
            if not len(todo):
                break
            z = first - share * thick
            depth = self.eye[2] - z
            px, py = self.eye[0] + run[todo] * depth, self.eye[1] + rise[todo] * depth
            now = self.shape.past(*self.laid.to_model(px, py, z))
            hit = now <= 0
            part = before[hit] / np.maximum(before[hit] - now[hit], 1e-6)
            height[todo[hit]] = before_z[hit] + (z[hit] - before_z[hit]) * part
            todo, before, before_z, first = todo[~hit], now[~hit], z[~hit], first[~hit]
        at = np.nonzero(height >= 0)[0]
        return at, height[at]

    def _overgrow(self, owner: NDArray[np.int8], height: F32, run: F32, rise: F32) -> None:
        """Let blades of grass stand before the sides of what lies in it."""
        at = np.nonzero(owner > 0)[0]
        if not len(at):
            return
        z = height[at]
        x, y = self.eye[0] + run[at] * (self.eye[2] - z), self.eye[1] + rise[at] * (self.eye[2] - z)
        top = np.where(owner[at] == 1, self.laid.surface(x, y), self.ruler.height(x, y))
        along = x + 0.6 * y + 0.35 * z
        blade = noise_2d(self.photo.seed, along * 10, z, 30.0)  # 3 mm wide, upright
        tuft = noise_2d(self.photo.seed + 1, x, y, 60.0)
        thick = np.clip(0.6 + 0.6 * tuft, 0.15, 1.6)
        fine = noise_2d(self.photo.seed + 3, along * 17, z, 30.0)
        stands = (7 + 6 * blade + 3 * fine) * thick + 2 * tuft  # mm above the ground
        owner[at[(z < top - 0.05) & (stands > z)]] = 3

    def _shade_blades(self, x: F32, y: F32, z: F32, fp: F32) -> F32:
        albedo, _, _ = self.floor.shade(x, y + 1.2 * z, fp)
        albedo = 0.6 * albedo + np.float32([0.07, 0.10, 0.03])
        through = self.light.cast(x, y, z)
        if self.box is not None:
            through = through * shadow(self.light, x, y, z, self.box)
        sun = through * (0.35 + 0.5 * smoothstep(0, 14, z))
        flat = (np.zeros(x.shape, np.float32), np.zeros(x.shape, np.float32), 1.0)
        sky = 0.45 + 0.4 * smoothstep(0, 14, z)
        return albedo * irradiance(self.light, flat, sun, sky)

    def _shade_floor(self, x: F32, y: F32, z: F32, fp: F32) -> F32:
        albedo, hx, hy = self.floor.shade(x, y, fp)
        deep = 0.7 if self.photo.light.kind == "sun" else 0.35
        albedo = self.clutter.lay(albedo, x, y, fp, deep)
        plan, gap = self.laid.plan_and_gap(x, y)
        through = shadow(self.light, x, y, 0.0, self.laid, plan) * self.light.cast(x, y, 0.0)
        sky = contact(plan, float(self.laid.thick), gap)
        if self.box is not None:
            plan = self.box.plan(x, y)
            through = through * shadow(self.light, x, y, 0.0, self.box, plan)
            if self.photo.rule.on == "floor":
                sky = sky * contact(plan, max(self.ruler.tall_mm, 2.0))
        past = self.standing.shadows(x, y) * self.backdrop.open_sky(x, y)
        dirt = (0.5 * self.backdrop.grime(x, y))[:, None]
        albedo = albedo + (np.float32([0.13, 0.115, 0.095]) - albedo) * dirt
        lit = albedo * irradiance(self.light, (-hx, -hy, 1.0), through * past, sky * past)
        if self._polish:
            worn = self.floor.gloss(x, y)
            wet = self.light.glare(x, y, self.eye, self._polish)
            lit = lit + tinted(wet, worn * past * (0.3 + 0.7 * sky))
        return self.standing.stand(lit, x, y, fp, self.eye)

    def _shade_board(self, x: F32, y: F32, z: F32, fp: F32) -> F32:
        mx, my, mz = (np.ascontiguousarray(c) for c in self.laid.to_model(x, y, z))
        deep = self.laid.below(mz)
        is_top = deep < 0.02
        _out, which = self.shape.outside(mx, my, mz)
        colour = np.empty((len(x), 3), dtype=np.float32)
        sides = np.where(is_top, 0, which + 1)
        cast = self.light.cast(x, y, z)
        box_is_high = self.ruler.tall_mm > 2
        if self.box is not None and box_is_high:
            cast = cast * shadow(self.light, x, y, z, self.box)
        for value in np.unique(sides):
            at = np.nonzero(sides == value)[0]
            mxa, mya, mza = mx[at], my[at], mz[at]
            if value == 0:
                side = FACE_1 if self.photo.face == 1 else FACE_2
                albedo, hx, hy = self.surfaces.shade(mxa, mya, mza, side, fp[at])
                up_x, up_y = self.laid.rise(mxa, mya)
                hx, hy = hx + up_x, hy + up_y
                ax, ay = self.laid.direction(1, 0)
                bx, by = self.laid.direction(0, 1)
                normal = (-(hx * ax + hy * bx), -(hx * ay + hy * by), 1.0)
                sky = np.ones(len(at), dtype=np.float32)
                if self.box is not None and self.photo.rule.on == "face":
                    near = self.box.plan(x[at], y[at])
                    sky = contact(near, max(self.ruler.tall_mm, 0.6))
                through = cast[at]
            else:
                side = int(value) - 1 + EDGE_LOW
                albedo, hx, hy = self.surfaces.shade(mxa, mya, mza, side, fp[at])
                out_x, out_y = ((0, -1), (0, 1), (-1, 0), (1, 0))[side - EDGE_LOW]
                nx, ny = self.laid.direction(out_x, out_y)
                lean = self._lean(mxa, mza, side)
                tx, ty = self.laid.direction(1, 0) if side < END_A else self.laid.direction(0, 1)
                normal = (nx - hx * tx, ny - hx * ty, lean + 0.04)
                low = 1 - deep[at] / self.laid.thick
                sky = 0.36 + 0.34 * low + 0.25 * np.clip(lean, 0, 1) + self.light.bounce
                through = cast[at]
            colour[at] = albedo * irradiance(self.light, normal, through, sky)
        return colour

    def _lean(self, x: F32, z: F32, side: int) -> F32:
        """Return how much an edge looks up (wane does, a sawn edge hardly)."""
        wane = self.shape.board.wane
        if wane is None or side != (EDGE_LOW if wane.side < 0 else EDGE_LOW + 1):
            return np.zeros(x.shape, dtype=np.float32)
        up = -1.0 if self.photo.face == 1 else 1.0  # the way up, along model z
        here = self.shape.edge(x, z, wane.side)
        above = self.shape.edge(x, z + np.float32(up), wane.side)
        return np.clip((here - above) * wane.side, -0.5, 3).astype(np.float32)

    def _shade_rule(self, x: F32, y: F32, z: F32, fp: F32) -> F32:
        assert self.box is not None
        is_top = z > self.ruler.height(x, y) - 0.05
        through = shadow(self.light, x, y, z, self.laid) * self.light.cast(x, y, z)
        colour = np.empty((len(x), 3), dtype=np.float32)
        at = np.nonzero(is_top)[0]
        if len(at):
            sky = np.ones(len(at), dtype=np.float32)
            if self.photo.rule.on == "floor":
                off = self.laid.plan(x[at], y[at]) + self.ruler.tall_mm
                sky = contact(off, float(self.laid.thick))
            flat = (np.zeros(len(at), np.float32), np.zeros(len(at), np.float32), 1.0)
            colour[at] = self.ruler.top(x[at], y[at]) * irradiance(
                self.light, flat, through[at], sky
            )
        at = np.nonzero(~is_top)[0]
        if len(at):
            end = (x[at] < self.box.x0 + 0.5) | (x[at] > self.box.x1 - 0.5)
            nx = np.where(end, np.sign(x[at] - self.box.x0 - 1), 0.0)
            ny = np.where(end, 0.0, np.sign(y[at]))
            low = (z[at] - self.ruler.base(x[at], y[at])) / self.ruler.tall_mm
            sky = (0.35 + 0.35 * low + self.light.bounce).astype(np.float32)
            if self.photo.rule.kind == "plain":
                albedo = np.full((len(at), 3), 0.22, dtype=np.float32)
            else:
                albedo = self.ruler.wood(x[at], y[at] + z[at])
            colour[at] = albedo * irradiance(self.light, (nx, ny, 0.04), through[at], sky)
        return colour


@lru_cache(maxsize=4)
def surfaces_of(board: BoardSpec) -> Surfaces:
    return Surfaces(Shape(board))
