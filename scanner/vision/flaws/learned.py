"""Possible flaws as the learned network sees them: knots, holes, checks, pitch, pith.

It was trained on real sawn softwood and on rendered hardwood (``flaws.md`` and ``photo_flaws.md``
in ``scanner/vision/weights`` say on what, and what it cannot do). Its candidates have the same form
as the other finders'.
"""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from scanner.board.flaw import Flaw, FlawKind
from scanner.vision.flaws.learned_lines import (
    LINE_KINDS,
    checks_of_scan,
    lines_on_flat,
    see_dark,
)
from scanner.vision.flaws.learned_maps import (
    PHOTO_WEIGHTS,
    ShareMaps,
    clear_wood,
    share_maps,
)
from scanner.vision.flaws.learned_odds import SPOT_MEASURES, spot_odds
from scanner.vision.flaws.learned_regions import Region, outline_mm, size_text, spot_regions
from scanner.vision.flaws.raked import joined_checks
from scanner.vision.flaws.soundness import knot_measures, sound_on_flat, sound_on_photo
from scanner.vision.flaws.surface import WORK_MM_PER_PX, Singles, Surface, paint
from scanner.vision.photos.picture import FacePicture

Bools = NDArray[np.bool_]

# By cross-validation over the training boards (flaws.md): F1 is flat from 0.25 to 0.5.
LEAST_SPOT_SCORE = 0.35
_KIND_SHARE = 0.5
# A scan looks for worm holes too, from some 1.6 mm on: small spots are judged again there by how
# they stand out from the face's own specks (`together`). On 20 rendered faces 16 of 35 holes were
# told instead of 10, and no more false spots.
_SMALLEST_ON_SCAN_PX = 8
# What the network is shown round the board: any even ground will do, it was trained on all.
_GROUND = 20
# Rows that are turned into colours at once, so that a long face takes little memory.
_STRIP_PX = 64


def find_learned(
    surface: Surface,
    least_score: float = LEAST_SPOT_SCORE,
    spots_stand: Callable[[list[Flaw]], None] | None = None,
) -> tuple[Flaw, ...]:
    """Return the possible knots, holes, bark pockets and checks of a scanned face.

    Pitch and pith are left out: they were learned on softwood, and on rendered hardwood dark ring
    lines are taken for them.

    Parameters
    ----------
    surface
        The face.
    least_score
        Fainter knots, holes and bark pockets are left out.
    spots_stand
        Called with knots, holes and bark pockets as soon as they stand, before checks are told.
    """
    pixels = as_shown(surface)
    # What needs no network, while that is at work.
    dark = see_dark(surface)
    maps = surface.shares() if surface.shares else shares_of(surface.lab, surface.wood)
    if surface.raked is not None:
        low = share_maps(as_shown(surface.raked), surface.raked.wood, PHOTO_WEIGHTS)
        maps = joined_checks(maps, low)
    clear = clear_wood(pixels, surface.wood)
    regions = spot_regions(maps, _SMALLEST_ON_SCAN_PX)
    at = surface.origin_mm, surface.u_mm
    spots = _spots(regions, pixels, clear, maps, *at, sound_on_photo, least_score)
    if spots_stand is not None:
        spots_stand(spots)
    own = [flaw.outlines[1] for flaw in spots if (flaw.score or 0.0) >= LEAST_SPOT_SCORE]
    checks = checks_of_scan(maps, surface.wood, *at, own, surface, dark)
    return _in_order([*spots, *checks])


def as_shown(surface: Surface) -> NDArray[np.uint8]:
    """Return (H, W, 3) a scanned face as the network is shown it."""
    return _shown(surface.lab, surface.wood)


def shares_of(lab: Singles, wood: Bools) -> ShareMaps:
    """Return what the network for photographs says of a scanned face (CIELAB)."""
    return share_maps(_shown(lab, wood), wood, PHOTO_WEIGHTS)


def _shown(lab: Singles, wood: Bools) -> NDArray[np.uint8]:
    pixels = np.empty(lab.shape, dtype=np.uint8)
    for top in range(0, len(lab), _STRIP_PX):
        strip = slice(top, top + _STRIP_PX)
        rgb = np.asarray(cv2.cvtColor(lab[strip], cv2.COLOR_LAB2RGB), dtype=np.float32)
        rgb *= np.float32(255)
        rgb += np.float32(0.5)
        np.clip(rgb, 0, 255, out=rgb)
        pixels[strip] = rgb
    pixels[~wood] = _GROUND
    return pixels


def find_on_flat(face: FacePicture, outline: Polygon) -> tuple[Flaw, ...]:
    """Return the possible flaws on a flat picture, in order along it (without ids).

    Parameters
    ----------
    face
        The flat picture, the board along x.
    outline
        The face to the arris, face mm.
    """
    ratio = face.mm_per_px / WORK_MM_PER_PX
    rows, columns = face.pixels.shape[:2]
    size = (max(16, round(columns * ratio)), max(16, round(rows * ratio)))
    how = cv2.INTER_AREA if ratio < 1 else cv2.INTER_CUBIC
    pixels = np.asarray(cv2.resize(face.pixels, size, interpolation=how), dtype=np.uint8)
    # Resizing keeps the picture's rim, not its first pixel's centre, in place.
    shift = 0.5 * (WORK_MM_PER_PX - face.mm_per_px)
    origin = (face.origin_mm[0] + shift, face.origin_mm[1] + shift)
    wood = paint(outline, origin, pixels.shape)
    u_mm = max(0.5, face.u_point_mm)
    maps = share_maps(pixels, wood)
    clear = clear_wood(pixels, wood)
    spots_seen = _spots(spot_regions(maps), pixels, clear, maps, origin, u_mm, sound_on_flat)
    return _in_order([*spots_seen, *lines_on_flat(maps, wood, origin, u_mm)])


def _in_order(flaws: list[Flaw]) -> tuple[Flaw, ...]:
    return tuple(sorted(flaws, key=lambda flaw: flaw.outlines[1].bounds[:2]))


def measure_spot(region: Region, maps: ShareMaps) -> list[float]:
    """Return what the score of a spot is formed from, in the order of `SPOT_MEASURES`."""
    share = region.mean(maps.of("spot"))
    values = {
        "share": float(np.log(share / (1.001 - share))),
        "core": region.most(maps.of("core")),
        "log_area": float(np.log(region.area_px)),
        "line": max(region.mean(maps.of(name)) for name in LINE_KINDS),
        "loose": region.mean(maps.of("loose")),
        "fill": region.area_px / region.pixels.size,
    }
    return [values[name] for name in SPOT_MEASURES]


def _spots(
    regions: list[Region],
    rgb: NDArray[np.uint8],
    clear: NDArray[np.float32],
    maps: ShareMaps,
    origin_mm: tuple[float, float],
    u_mm: float,
    sound_of: Callable[[list[float]], bool | None],
    least_score: float = LEAST_SPOT_SCORE,
) -> list[Flaw]:
    if not regions:
        return []
    measures = np.array([measure_spot(region, maps) for region in regions])
    flaws = []
    for region, score in zip(regions, spot_odds(measures), strict=True):
        if score < least_score or (outline := outline_mm(region, origin_mm)).is_empty:
            continue
        kind = FlawKind.KNOT
        hole, pocket = (region.mean(maps.of(name)) for name in ("hole", "bark_pocket"))
        if max(hole, pocket) > _KIND_SHARE:
            kind = FlawKind.HOLE if hole >= pocket else FlawKind.BARK_POCKET
        sound = None
        if kind is FlawKind.KNOT:
            sound = sound_of(knot_measures(rgb, clear, region, maps))
        flaws.append(
            Flaw(
                id="",
                kind=kind,
                outlines={1: outline},
                sound=sound,
                score=round(float(score), 3),
                reason=_spot_reason(kind, sound, outline),
                u_mm=u_mm,
            )
        )
    return flaws


def _spot_reason(kind: FlawKind, sound: bool | None, outline: Polygon) -> str:
    size = size_text(outline)
    if kind is FlawKind.HOLE:
        return f"looks like a hole, {size}"
    if kind is FlawKind.BARK_POCKET:
        return f"looks like bark grown in, {size}"
    word = {True: "sound ", False: "loose or cracked ", None: ""}[sound]
    return f"looks like a {word}knot, {size}"
