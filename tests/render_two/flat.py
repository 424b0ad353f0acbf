"""A face seen square on, without a camera: quick pictures to score finders on."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_two.face import cut_face
from tests.render_two.flaw_truth import truth_of
from tests.render_two.ground import KINDS, floor
from tests.render_two.light import developed, draw_light, lit
from tests.render_two.noise import cloud, ease
from tests.render_two.plank import Plank, draw_plank
from tests.render_two.sawing import shade
from tests.render_two.truth import BoardTruth

MM_PER_PX = 0.5
MARGIN_MM = 20.0


@dataclass(frozen=True, eq=False)
class FlatView:
    """A picture (rows, columns, 3) uint8 RGB of a face, and how board mm lie in it.

    ``turned``: face 2 was turned over ``sideways`` or ``end_over_end``; face 1 ``not``.
    """

    pixels: np.ndarray
    mm_per_px: float
    truth: BoardTruth
    face: int
    turned: str
    origin: tuple[float, float]
    plank: Plank

    def from_board(self, points):
        """Return the picture's mm of board mm."""
        points = np.array(points, float)
        return view_from_board(points, self.turned, self.plank) - self.origin


def view_from_board(points, turned, plank):
    """Return board points as the person sees them on the turned board."""
    points = np.array(points, float)
    if turned == "sideways":
        points[..., 1] = plank.width - points[..., 1]
    elif turned == "end_over_end":
        points[..., 0] = plank.length - points[..., 0]
    return points


def turned_of(plank, face):
    if face == 1:
        return "not"
    return "sideways" if plank.seed % 4 else "end_over_end"


def seen(cut, plank, turned):
    """Return albedo, height, wood and drop of a cut face as a person sees it, and its origin."""
    arrays = [cut.albedo, cut.height, cut.wood, cut.drop]
    rows, columns = cut.wood.shape
    last = np.array(cut.origin) + (np.array([columns, rows]) - 1) * cut.mm_per_px
    origin = list(cut.origin)
    if turned == "sideways":
        arrays = [np.ascontiguousarray(a[::-1]) for a in arrays]
        origin[1] = plank.width - last[1]
    elif turned == "end_over_end":
        arrays = [np.ascontiguousarray(a[:, ::-1]) for a in arrays]
        origin[0] = plank.length - last[0]
    return (*arrays, tuple(float(v) for v in origin))


def flat_view(seed: int, face: int, mm: float = MM_PER_PX) -> FlatView:
    """Return one face of a seed's board at true scale on a floor."""
    plank = draw_plank(seed)
    rng = np.random.default_rng((seed, 47, face))
    light = draw_light(rng)
    turned = turned_of(plank, face)
    albedo, height, wood, _, origin = seen(cut_face(plank, face, mm), plank, turned)
    pad = round(MARGIN_MM / mm)
    shape = (wood.shape[0] + 2 * pad, wood.shape[1] + 2 * pad)
    ground = floor(rng, KINDS[int(rng.integers(len(KINDS)))], shape, mm)
    inner = (slice(pad, -pad), slice(pad, -pad))
    shadow = _shadow_edge(rng, shape, mm)
    radiance = lit(light, ground, np.ones(shape, np.float32), shadow)
    radiance = radiance * _beside(wood, shape, pad, mm, light)[..., None]
    face_light = lit(light, albedo, shade(height, mm, light.toward), shadow[inner])
    share = wood[..., None]
    radiance[inner] = radiance[inner] * (1 - share) + face_light * share
    pixels = developed(light, radiance.astype(np.float32), rng)
    start = (origin[0] - pad * mm, origin[1] - pad * mm)
    return FlatView(pixels, mm, truth_of(plank), face, turned, start, plank)


def _beside(wood, shape, pad, mm, light):
    """Return how the board darkens the floor beside it: its shadow and the sky it hides."""
    whole = np.zeros(shape, np.float32)
    whole[pad:-pad, pad:-pad] = wood
    near = cv2.GaussianBlur(whole, (0, 0), 7 / mm)
    x, y, z = light.toward
    cast = np.zeros(shape, np.float32)
    for share in (0.25, 0.5, 0.75, 1.0):
        shift = np.float32([[1, 0, -x / z * 27 * share / mm], [0, 1, -y / z * 27 * share / mm]])
        cast = np.maximum(cast, cv2.warpAffine(whole, shift, shape[::-1]))
    return (1 - 0.5 * near) * (1 - light.direct * 0.8 * cast)


def _shadow_edge(rng, shape, mm):
    """Return 1 in the sun; some pictures have the edge of a shadow across them."""
    if rng.random() > 0.22:
        return np.ones(shape, np.float32)
    x = np.arange(shape[1])[None] * mm
    y = np.arange(shape[0])[:, None] * mm
    at = rng.uniform(0.2, 0.8) * shape[1] * mm
    edge = x - at + rng.normal(0, 0.7) * y + 4 * cloud(rng, shape, (60 / mm, 60 / mm))
    soft = rng.uniform(1.5, 14)
    return (1 - 0.85 * ease(edge * rng.choice([-1, 1]), -soft, soft)).astype(np.float32)
