"""How often the coded strip is found: drawn strips on drawn floors, seen by drawn cameras.

``python -m tests.bench.strips --seeds 8000-8099 --jobs 2``: 8 megapixels, 0.4 to 1.8 mm a pixel
(distance over focal length at the strip's middle), tilts to 55 degrees, any side up, half in
shade, partly covered, blurred, noisy, saved as JPEG. A strip counts as found where at least six
markers are read and none lies over 2 px from its true place.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import cv2
import numpy as np

from scanner.errors import PhotoError
from scanner.geometry.strip_layout import corners_mm
from scanner.vision.fit.camera import Camera, rotation
from scanner.vision.photos.picture import Photo
from scanner.vision.rule.strip import find_strip
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.many import workers
from tests.vision.drawn import PX_PER_MM, strip_sheet

WIDTH, HEIGHT = 3264, 2448
FOCAL_PX = 26.0 * np.hypot(WIDTH, HEIGHT) / 43.267
_CELL = 32
_WRONG_PX = 2.0
# The bars: found for sure up to these, mm a pixel, and up to this tilt for the coarser one.
FINE, COARSE, LEVEL_TILT_DEG = 1.0, 1.5, 30.0


@dataclass(frozen=True)
class Shot:
    """A drawn photo (grey), and how its strip was seen."""

    grey: np.ndarray
    camera: Camera
    mm_per_px: float
    tilt_deg: float
    in_view: int
    about: str

    @property
    def must_be_found(self) -> bool:
        if self.tilt_deg <= LEVEL_TILT_DEG:
            return self.mm_per_px <= COARSE
        return self.mm_per_px <= FINE


def _camera(random: np.random.Generator, mm_per_px: float, tilt: float, aim: np.ndarray) -> Camera:
    lens = np.array([FOCAL_PX, WIDTH / 2, HEIGHT / 2, *random.normal(0, [0.03, 0.01, 0.0]), 0, 0])
    lens[1:3] += random.normal(0, 20, 2)
    turn = rotation(np.array([0, 0, random.uniform(0, 2 * np.pi)]))
    R = rotation(np.array([-np.radians(tilt), 0, 0])) @ rotation(np.array([np.pi, 0, 0])) @ turn
    middle = np.array([0.0, 0.0, mm_per_px * FOCAL_PX])
    # The strip's middle lies somewhere about the picture's, not in it.
    middle[:2] = random.uniform(-0.12, 0.12, 2) * middle[2]
    return Camera(lens, R, middle - R @ np.array([*aim, 0.0]))


def _ground(camera: Camera) -> np.ndarray:
    """Return the floor's x and y (H, W, 2), mm, of every pixel; exact every few pixels."""
    columns = np.arange(0, WIDTH + _CELL, _CELL, dtype=float)
    rows = np.arange(0, HEIGHT + _CELL, _CELL, dtype=float)
    pixels = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    rays = camera.rays(pixels)
    reach = np.where(rays[:, 2] < -1e-3, -camera.centre[2] / np.minimum(rays[:, 2], -1e-3), 1e5)
    there = camera.centre[:2] + rays[:, :2] * reach[:, None]
    coarse = there.reshape(len(rows), len(columns), 2).astype(np.float32)
    across, down = np.meshgrid(
        np.arange(WIDTH, dtype=np.float32) / _CELL, np.arange(HEIGHT, dtype=np.float32) / _CELL
    )
    return cv2.remap(coarse, across, down, cv2.INTER_LINEAR)


def _noise(random: np.random.Generator, size: tuple[int, int], blur: tuple[float, float]):
    values = cv2.GaussianBlur(
        random.normal(0, 1, size).astype(np.float32), (0, 0), blur[0], sigmaY=blur[1]
    )
    return values / values.std()


def _floor(random: np.random.Generator, ground: np.ndarray, mm_per_px: float) -> np.ndarray:
    """Return a floor's brightness: planks, tiles, concrete or a lawn."""
    kind = random.choice(["planks", "tiles", "concrete", "lawn"])
    side = 1024
    per_px = max(0.6, 0.8 * mm_per_px)
    stretch = {"planks": (14.0, 0.9), "lawn": (1.2, 2.5)}.get(str(kind), (1.5, 1.5))
    tile = 14 * _noise(random, (side, side), stretch) + 8 * _noise(random, (side, side), (30, 30))
    if kind == "lawn":
        tile = 28 * _noise(random, (side, side), stretch)
    at = (ground / per_px) % (side - 1)
    value = random.uniform(60, 190) + cv2.remap(
        tile, np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1]), cv2.INTER_LINEAR
    )
    if kind in ("planks", "tiles"):
        wide = random.uniform(70, 140) if kind == "planks" else random.uniform(150, 330)
        shades = random.normal(0, 12, 997)
        row = np.floor(ground[..., 1] / wide)
        column = np.floor((ground[..., 0] + 611 * row * (kind == "planks")) / wide / 8)
        if kind == "tiles":
            column = np.floor(ground[..., 0] / wide)
        value += shades[(row * 31 + column * 17).astype(np.int64) % 997].astype(np.float32)
        joint = (ground[..., 1] % wide) < 3
        if kind == "tiles":
            joint |= (ground[..., 0] % wide) < 4
        value[joint] = random.uniform(20, 220)
    return value.astype(np.float32)


def _lay(picture: np.ndarray, camera: Camera, low, high, value: np.ndarray) -> None:
    """Lay a rectangle (mm, its first and last corner) of a brightness over the floor."""
    along = np.linspace(low[0], high[0], 16)
    ring = [[x, low[1], 0.0] for x in along] + [[x, high[1], 0.0] for x in along[::-1]]
    seen = np.nan_to_num(camera.project(np.array(ring)), nan=-1.0).clip(-20000, 20000)
    mask = cv2.fillPoly(np.zeros(picture.shape, np.uint8), [np.round(seen).astype(np.int32)], 1)
    cv2.copyTo(value, mask, picture)


def _film_grain(random: np.random.Generator) -> np.ndarray:
    """Return noise (H, W) of sd 1, the same tile again and again."""
    tile = random.standard_normal((811, 1153), dtype=np.float32)
    return np.tile(tile, (HEIGHT // 811 + 1, WIDTH // 1153 + 1))[:HEIGHT, :WIDTH]


def shoot_strip(seed: int) -> Shot:
    """Return a drawn photo of a strip beside a board."""
    random = np.random.default_rng(seed)
    pieces = int(random.integers(4, 11))
    mm_per_px = float(random.uniform(0.4, 1.8))
    tilt = float(random.uniform(0, 55))
    aim = np.array([125.0 * pieces + random.normal(0, 60), random.uniform(-150, 150)])
    camera = _camera(random, mm_per_px, tilt, aim)
    ground = _ground(camera)
    # A floor is no finer than every second pixel; the camera's noise comes on top.
    floor = _floor(random, np.ascontiguousarray(ground[::2, ::2]), 2 * mm_per_px)
    picture = cv2.resize(floor, (WIDTH, HEIGHT), interpolation=cv2.INTER_LINEAR)
    board = (random.uniform(80, 210) + 10 * _film_grain(random)).astype(np.float32)
    side = random.choice([-1, 1])
    near, far = sorted(side * np.array([45.0, random.uniform(150, 280)]))
    _lay(picture, camera, (-50, near), (250 * pieces + 50, far), board)
    ring = np.array([[0, -31, 0], [250 * pieces, -31, 0], [250 * pieces, 31, 0], [0, 31, 0]])
    low = (camera.project(ring).min(axis=0) - 9).astype(int).clip(0)
    high = (camera.project(ring).max(axis=0) + 9).astype(int).clip(1)
    part = np.s_[low[1] : high[1], low[0] : high[0]]
    _print_strip(random, picture[part], ground[part], pieces, mm_per_px)
    hidden = _cover(random, picture, camera, pieces)
    is_shaded = random.random() < 0.5
    if is_shaded:
        _shade(random, picture)
    grey = _develop(random, picture)
    seen = camera.project(np.column_stack([_centres(pieces), np.zeros(5 * pieces)]))
    inside = ((seen > 20) & (seen < np.array([WIDTH - 20, HEIGHT - 20]))).all(axis=1)
    clear = sum(
        bool(ok) and not any(low - 20 < x < high + 20 for low, high in hidden)
        for ok, x in zip(inside, _centres(pieces)[:, 0], strict=True)
    )
    about = f"{'shade' if is_shaded else 'clear'}, {100 * len(hidden):3d}"
    return Shot(grey, camera, mm_per_px, tilt, clear, about)


def _centres(pieces: int) -> np.ndarray:
    return np.column_stack([50.0 * np.arange(5 * pieces) + 25, np.zeros(5 * pieces)])


def _print_strip(random, picture, ground, pieces: int, mm_per_px: float) -> None:
    sheet, corner = strip_sheet(range(pieces))
    # No finer than the photo sees it, or the fine lines would flicker.
    density = min(PX_PER_MM, 1.6 / mm_per_px)
    size = (
        round(sheet.shape[1] * density / PX_PER_MM),
        round(sheet.shape[0] * density / PX_PER_MM),
    )
    small = cv2.resize(sheet, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    black, white = random.uniform(18, 60), random.uniform(175, 250)
    small = black + (small - 20) / 225 * (white - black)
    scale = np.array([size[0] / (250.0 * pieces), size[1] / 60.0])
    x = ((ground[..., 0] - corner[0]) * scale[0] - 0.5).astype(np.float32)
    y = ((corner[1] - ground[..., 1]) * scale[1] - 0.5).astype(np.float32)
    over = cv2.remap(small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = (x > -0.5) & (y > -0.5) & (x < size[0] - 0.5) & (y < size[1] - 0.5)
    picture[inside] = over[inside]


def _cover(random, picture, camera: Camera, pieces: int) -> list[tuple[float, float]]:
    """Lay things over the strip, at most 40 % of it; return from where to where."""
    hidden: list[tuple[float, float]] = []
    for _ in range(int(random.integers(0, 4))):
        long = random.uniform(20, 0.13 * 250 * pieces)
        low = random.uniform(0, 250 * pieces - long)
        y = random.uniform(-80, 10)
        value = np.full(picture.shape, random.uniform(10, 240), np.float32)
        _lay(picture, camera, (low, y), (low + long, y + random.uniform(30, 150)), value)
        hidden.append((low, low + long))
    return hidden


def _shade(random, picture: np.ndarray) -> None:
    """Put half of the picture in shade, its border soft."""
    angle = random.uniform(0, 2 * np.pi)
    v, u = np.ogrid[0:HEIGHT, 0:WIDTH]
    u, v = u.astype(np.float32) - WIDTH / 2, v.astype(np.float32) - HEIGHT / 2
    off = u * np.float32(np.cos(angle)) + v * np.float32(np.sin(angle))
    off += np.float32(random.uniform(-400, 400))
    soft = np.clip(off / np.float32(random.uniform(10, 250)) + np.float32(0.5), 0, 1)
    picture *= 1 - soft * np.float32(random.uniform(0.4, 0.75))


def _develop(random, picture: np.ndarray) -> np.ndarray:
    """Return the photo as a phone saves it."""
    light = random.uniform(0.75, 1.25)
    soft = cv2.GaussianBlur(picture * light, (0, 0), random.uniform(0.5, 1.2))
    noisy = soft + _film_grain(random) * np.float32(random.uniform(1, 5))
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(random.integers(75, 95))]
    _, coded = cv2.imencode(".jpg", cv2.convertScaleAbs(np.maximum(noisy, 0)), quality)
    return np.asarray(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE))


def look(shot: Shot) -> tuple[str, int]:
    """Return "found", "refused" or "wrong", and how many markers were read."""
    pixels = np.zeros((1, 1, 3), np.uint8)
    try:
        seen = find_strip(Photo("drawn.jpg", pixels, "", None, "", True), shot.grey)
    except PhotoError:
        return "refused", 0
    if seen is None:
        return "refused", 0
    marks = np.concatenate([corners_mm(int(number)) for number in seen.ids])
    true = shot.camera.project(np.column_stack([marks, np.zeros(len(marks))])).reshape(-1, 4, 2)
    off = np.linalg.norm(seen.corners - true, axis=2).max(axis=1)
    return ("wrong" if off.max() > _WRONG_PX else "found"), len(seen.ids)


def one_strip(seed: int) -> tuple[str, str, int, int, str] | None:
    """Return row, answer, markers read and in view, and a line of text; None without a strip."""
    cv2.setNumThreads(1)
    shot = shoot_strip(seed)
    # Six markers make a strip: where fewer are in view there is none to be found.
    if shot.in_view < 6:
        return None
    answer, number = look(shot)
    row = "beyond"
    if shot.must_be_found:
        row = "to 1 mm/px" if shot.mm_per_px <= FINE else "to 1.5 mm/px, 30 deg"
    text = (
        f"{seed}: {shot.mm_per_px:.2f} mm/px, {shot.tilt_deg:2.0f} deg, {shot.about}: "
        f"{answer}, {number} of {shot.in_view} markers"
    )
    return row, answer, number, shot.in_view, text


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8000-8099", help="first-last")
    parser.add_argument("--quiet", action="store_true", help="only what was not found, and sums")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", action="store_true", help="keep the figures for PROOF.md")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    counts: dict[str, dict[str, int]] = {}
    read, clear = 0, 0
    with workers(chosen.jobs) as pool:
        for told in pool.map(one_strip, range(first, last + 1)):
            if told is None:
                continue
            row, answer, number, in_view, text = told
            if row != "beyond":
                read, clear = read + number, clear + in_view
            counts.setdefault(row, {"found": 0, "refused": 0, "wrong": 0})[answer] += 1
            if not chosen.quiet or (answer != "found" and row != "beyond"):
                print(text, flush=True)
    figures = []
    for row, answers in sorted(counts.items()):
        found, total = answers["found"], sum(answers.values())
        print(f"{row}: found {found} of {total}, {answers}")
        bar, met = ("99 %", found >= 0.99 * total) if row != "beyond" else ("", None)
        text = f"{share_text(found, total)}, {answers['wrong']} wrong"
        figures.append(Figure(f"strip found, {row}", text, bar, met))
    if clear:
        print(f"markers read of those clear in view, within the bars: {read / clear:.3f}")
        figures.append(Figure("markers read of those in clear view", f"{100 * read / clear:.1f} %"))
    if chosen.keep:
        data = f"drawn strips on drawn floors, seeds {first}-{last}, 8 megapixels, tilt to 55°"
        command = f"python -m tests.bench.strips --seeds {chosen.seeds}"
        keep(Bench("strips", "Finding the coded strip", data, command, tuple(figures)))


if __name__ == "__main__":
    main()
