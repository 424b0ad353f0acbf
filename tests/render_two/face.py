"""One face cut from the solid: reflectance, height and where wood is, on a grid."""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.render_two import sawing, vessels
from tests.render_two.cracks import cover
from tests.render_two.noise import cloud, ease
from tests.render_two.paint import absorbed
from tests.render_two.pigment import BARK, BLUE, GREY, GUM, MINERAL, TAR, reflectance
from tests.render_two.strays import lay_strays

PAD_MM = 4.0


@dataclass(frozen=True, eq=False)
class CutFace:
    """A face in the board frame (seen through the board if it is face 2).

    ``albedo`` (rows, columns, 3) linear; ``height`` mm above the face's plane, wane below it;
    ``wood`` (rows, columns) share of a pixel that is wood; ``origin`` board mm of the first pixel.
    """

    albedo: np.ndarray
    height: np.ndarray
    wood: np.ndarray
    drop: np.ndarray
    origin: tuple[float, float]
    mm_per_px: float


def cut_face(plank, face: int, mm: float = 0.5) -> CutFace:
    """Return a face of the plank at so many millimetres a pixel."""
    rng = np.random.default_rng((plank.seed, 31, face))
    form = plank.form
    ring = form.silhouette()
    origin = tuple(np.floor(ring.min(axis=0) - PAD_MM))
    size = np.ceil((ring.max(axis=0) + PAD_MM - origin) / mm).astype(int) + 1
    columns = (np.arange(size[0]) * mm + origin[0]).astype(np.float32)
    rows = (np.arange(size[1]) * mm + origin[1]).astype(np.float32)
    x, y = np.meshgrid(columns, rows)
    shape = x.shape
    wood_share = fill(shape, ring, origin, mm)
    drop, bark = _wane(form, face, columns, y)
    z = drop if face == 1 else plank.thickness - drop
    wood = plank.solid.wood(x, y, z)
    across = wood.across.reshape(shape)
    slope = _slope(across)
    streak = _streak(rng, shape, mm, across, origin)
    k = absorbed(plank, wood, streak.ravel()).reshape(*shape, 3)
    k = _vessels(rng, plank, wood, k, mm, slope, x, y, face)
    k = _patches(rng, plank, face, k, origin, mm)
    k = _weather(rng, plank, k)
    albedo = reflectance(k)
    albedo = _bark(rng, albedo, bark, drop)
    gap = np.zeros(shape, np.float32)
    for crack in plank.cracks:
        for trace in crack.traces:
            if trace.face == face:
                one = cover(trace, shape, mm, origin)
                deep = 0.94 * (1 - 0.5 * trace.dust)
                gap = np.maximum(gap, one * deep)
    albedo = albedo * (1 - gap)[..., None]
    albedo, faded = lay_strays(rng, plank, albedo, origin, mm)
    h = sawing.height(plank.saw, face, x, y, across)
    # No saw has touched the wane.
    skin = np.where(bark > 0.5, np.float32(1.2), np.float32(0.25)) * cloud(rng, shape, (4, 11))
    h = np.where(drop > 0.4, skin, h) - drop
    dip = cv2.GaussianBlur(gap, (0, 0), 0.7)
    return CutFace(
        (albedo * faded).astype(np.float32), h - 0.35 * dip, wood_share, drop, origin, mm
    )


def fill(shape, ring, origin, mm):
    """Return the share of each pixel inside a ring, 0-1."""
    mask = np.zeros(shape, np.uint8)
    points = np.round((np.asarray(ring) - origin) / mm * 256).astype(np.int32)
    cv2.fillPoly(mask, [points], 255, cv2.LINE_AA, 8)
    return mask.astype(np.float32) / 255


def _wane(form, face, columns, y):
    drop, bark = np.zeros(y.shape, np.float32), np.zeros(y.shape, np.float32)
    for one in form.wane:
        if one.face != face:
            continue
        width = np.interp(columns, form.x, one.width)
        edge = np.interp(columns, form.x, form.top if one.low_edge else form.bottom)
        from_edge = (y - edge) if one.low_edge else (edge - y)
        share = np.clip(1 - from_edge / np.maximum(width, 1e-3), 0, 1.2) * (width > 0.8)
        local = one.depth * np.clip(width / max(one.width.max(), 1e-3), 0, 1)
        drop = np.maximum(drop, local * share**1.3)
        if one.has_bark:
            bark = np.maximum(bark, ease(share, 0.03, 0.1))
        else:
            bark = np.maximum(bark, 0.35 * ease(share, 0.02, 0.08))
    return drop.astype(np.float32), bark.astype(np.float32)


def _slope(across):
    gy = cv2.Sobel(across, cv2.CV_32F, 0, 1, scale=1 / 8)
    gx = cv2.Sobel(across, cv2.CV_32F, 1, 0, scale=1 / 8)
    slope = -gx / np.where(np.abs(gy) < 0.05, 0.05, gy)
    return np.clip(cv2.GaussianBlur(slope, (0, 0), 1.5), -1.2, 1.2)


def _streak(rng, shape, mm, across, origin):
    """Return noise drawn out along the fibres, bent as they bend."""
    flat = cloud(rng, shape, (0.8 / mm, 60 / mm)) * 0.7 + cloud(rng, shape, (3.5 / mm, 260 / mm))
    flat += 0.6 * cloud(rng, shape, (14 / mm, 500 / mm)) + 0.4 * cloud(rng, shape, (1, 9 / mm))
    rows = ((across - origin[1]) / mm).astype(np.float32)
    rows = rows - (rows.mean() - shape[0] / 2)
    columns = np.broadcast_to(np.arange(shape[1], dtype=np.float32), shape)
    return cv2.remap(
        flat, np.ascontiguousarray(columns), rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )


def _vessels(rng, plank, wood, k, mm, slope, x, y, face):
    species, shape = plank.species, x.shape
    area = x.size * mm * mm
    early, late = species.pores
    phase = (wood.year - np.floor(wood.year)).reshape(shape)
    if species.early < 0.45:
        ring = np.where(phase < species.early * 0.75, 1.0, late / early)
    else:
        ring = early + (late - early) * phase
        ring = ring / max(early, late)
    ring = np.where(wood.branch.reshape(shape) >= 0, 0.05, ring).astype(np.float32)
    laid = vessels.strokes(
        rng, shape, mm, int(area * max(early, late) * 1.6), ring, slope, species.vessel_mm,
        species.vessel_dark * 0.33 / mm * 0.5,
    )  # fmt: skip
    k = k + np.minimum(laid, 2.2)[..., None] * (0.30 * k + 0.018 * TAR)
    if species.ray_mm:
        py, pz = plank.solid.stem.pith_at(x[0])
        z = 0.0 if face == 1 else plank.thickness
        dz, dy = np.broadcast_to(z - pz, shape), y - py
        flatness = np.abs(dz) / (np.hypot(dy, dz) + 1e-3)
        if species.ray_mm > 5:
            cut = vessels.rays(rng, shape, mm, flatness, slope, species.ray_mm)
            k = k * np.exp(np.where(cut > 0, 0.75, 0.38) * cut)[..., None]
        else:
            fleck = np.clip(1.2 - 1.6 * flatness, 0.15, 1).astype(np.float32)
            small = vessels.strokes(
                rng, shape, mm, int(area * 0.3), fleck, slope, species.ray_mm, 0.5
            )
            k = k * np.exp(-0.22 * np.clip(small, 0, 1.5))[..., None]
    return k


def _patches(rng, plank, face, k, origin, mm):
    shape = k.shape[:2]
    for patch in plank.patches:
        if face not in patch.rings:
            continue
        inside = fill(shape, patch.rings[face], origin, mm)
        if patch.kind == "hole":
            k = k + inside[..., None] * TAR * 4
            rim = cv2.GaussianBlur(inside, (0, 0), 1.2 / mm) * (1 - inside)
            k = k * (1 + 0.8 * rim)[..., None]
            continue
        if patch.kind == "bark_pocket":
            crumb = 1 + 0.35 * cloud(rng, shape, (1.5 / mm, 5 / mm))
            rim = cv2.GaussianBlur(inside, (0, 0), 1.5 / mm)
            tone = inside * np.clip(crumb, 0.3, 2) * 1.2 + 0.15 * rim
            k = k * (1 - inside)[..., None] + tone[..., None] * (0.5 * BARK + 0.5 * TAR)
            continue
        soft = cv2.GaussianBlur(inside, (0, 0), (0.6 if patch.look == "gum" else 3.0) / mm)
        dye = {"gum": GUM * 1.3, "mineral": MINERAL * 0.9, "blue": BLUE * 0.55}[patch.look]
        uneven = np.clip(1 + 0.3 * cloud(rng, shape, (3 / mm, 30 / mm)), 0.2, 2)
        k = k + (soft * uneven * patch.strength)[..., None] * dye
    if plank.has_pith:
        z = 0.0 if face == 1 else plank.thickness
        columns = np.arange(shape[1]) * mm + origin[0]
        py, pz = plank.solid.stem.pith_at(columns)
        rows = (np.arange(shape[0]) * mm + origin[1])[:, None]
        r = np.hypot(rows - py, z - pz)
        k = k + np.exp(-((r / 2.2) ** 2))[..., None] * ROT_PITH
    return k


ROT_PITH = 0.8 * BARK


def _weather(rng, plank, k):
    if plank.weathered < 0.02:
        return k
    where = np.clip(0.6 + 0.4 * cloud(rng, k.shape[:2], (120, 500)), 0, 1.4) * plank.weathered
    return k + where[..., None] * GREY * 0.55


def _bark(rng, albedo, bark, drop):
    if not bark.any():
        return albedo
    shape = bark.shape
    rough = cloud(rng, shape, (7, 26)) + 0.6 * cloud(rng, shape, (3, 8))
    tone = reflectance(BARK * np.exp(0.55 * rough)[..., None])
    full = np.clip(bark, 0, 1)[..., None]
    return albedo * (1 - full) + tone * full
