"""A strip or a rule drawn on a floor and seen by a camera: quick pictures with known truth.

Apart from the renderer of boards on purpose: this one knows no wood, only marks.
"""

import cv2
import numpy as np

from scanner.sheets.strip_pieces import strip_piece
from scanner.sheets.strip_shapes import Area, Stroke
from scanner.vision.fit.camera import Camera, rotation
from scanner.vision.photos.picture import Photo

PX_PER_MM = 4
SIZE = (1600, 1200)


def camera(tilt_deg=25.0, distance=1100.0, aim=(500.0, 100.0), turn=0.1, lens=None):
    f = 1250.0
    flat = np.array([f, 802.0, 597.0, 0.02, -0.01, 0.0, 0.0, 0.0]) if lens is None else lens
    down = rotation(np.array([np.pi, 0.0, 0.0]))
    R = rotation(np.array([-np.radians(tilt_deg), 0, 0])) @ down @ rotation(np.array([0, 0, turn]))
    return Camera(flat, R, np.array([0.0, 0.0, distance]) - R @ np.array([*aim, 0.0]))


def strip_sheet(pieces=(0, 1, 2, 3)):
    """Return a drawn strip (grey, rows from y = +30 down) and its corner in the reference frame.

    ``pieces`` (0 is the first), as they are glued.
    """
    length = len(pieces) * 250
    sheet = np.full((60 * PX_PER_MM, length * PX_PER_MM), 245, np.uint8)
    for index, piece in enumerate(pieces):
        for shape in strip_piece("A", piece):
            match shape:
                case Area(points, grey):
                    ring = [
                        ((x + 250 * index) * PX_PER_MM, (30 - y) * PX_PER_MM) for x, y in points
                    ]
                    ink = round(20 + 225 * grey)
                    fixed = np.round((np.array(ring) - 0.5) * 16).astype(np.int32)
                    cv2.fillPoly(sheet, [fixed], ink, cv2.LINE_8, 4)
                case Stroke((x0, y0), (x1, y1), width, _):
                    a = round((x0 + 250 * index) * PX_PER_MM), round((30 - y0) * PX_PER_MM)
                    b = round((x1 + 250 * index) * PX_PER_MM), round((30 - y1) * PX_PER_MM)
                    cv2.line(sheet, a, b, 60, max(1, round(width * PX_PER_MM)))
    return sheet, (0.0, 30.0)


def rule_sheet(length_mm=609.6, width_mm=28.0, step_mm=25.4):
    """Return a drawn steel rule with graduations from both edges, and its corner."""
    sheet = np.full((round(width_mm * PX_PER_MM), round(length_mm * PX_PER_MM)), 205, np.uint8)
    fine = step_mm / 8 if step_mm > 20 else step_mm / 2
    for number in range(1, round(length_mm / fine)):
        x = round(number * fine * PX_PER_MM)
        whole = round(step_mm / fine)
        tall = 9.0 if number % whole == 0 else 5.5 if number % (whole // 2 or 1) == 0 else 3.5
        for y0, y1 in ((0, tall), (width_mm - tall, width_mm)):
            cv2.line(sheet, (x, round(y0 * PX_PER_MM)), (x, round(y1 * PX_PER_MM)), 40, 2)
    return sheet, (0.0, width_mm / 2)


def shoot(seen_by, sheet, corner, seed=0, floor=110.0, size=SIZE, shade=True):
    """Return a photo (H, W, 3) of a sheet on a speckled floor."""
    random = np.random.default_rng(seed)
    width, height = size
    v, u = np.mgrid[0:height, 0:width].astype(np.float64)
    pixels = np.column_stack([u.ravel(), v.ravel()])
    rays = seen_by.rays(pixels)
    reach = -seen_by.centre[2] / rays[:, 2]
    ground = seen_by.centre[:2] + rays[:, :2] * reach[:, None]
    x = ((ground[:, 0] - corner[0]) * PX_PER_MM - 0.5).reshape(u.shape).astype(np.float32)
    y = ((corner[1] - ground[:, 1]) * PX_PER_MM - 0.5).reshape(u.shape).astype(np.float32)
    speckle = cv2.GaussianBlur(random.normal(0, 60, (512, 512)).astype(np.float32), (0, 0), 2)
    under = floor + cv2.remap(speckle, x % 500, y % 500, cv2.INTER_LINEAR)
    # One pixel of the photo covers about a millimetre: blur the sheet first, as a lens does.
    small = cv2.GaussianBlur(sheet, (0, 0), 2.0).astype(np.float32)
    over = cv2.remap(small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    inside = (x >= 0) & (y >= 0) & (x <= sheet.shape[1] - 1) & (y <= sheet.shape[0] - 1)
    picture = np.where(inside, over, under)
    if shade:
        picture *= np.clip(0.7 + (u / u.max() - 0.5), 0.45, 1.0)
    picture = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.4)
    picture = picture + random.normal(0, 2.5, picture.shape)
    return np.repeat(np.clip(picture, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def photo_of(pixels, focal_px=1270.0, name="drawn.jpg"):
    return Photo(name, pixels, "0" * 64, focal_px, "", True)
