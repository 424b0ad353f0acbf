"""The references: the coded paper strip and a 36 in steel rule, drawn at true scale.

Written from the strip's specification alone, on purpose apart from the code that prints it.
"""

from collections.abc import Callable
from functools import lru_cache

import cv2
import numpy as np

from tests.render.noise import F32, lookup, noise_2d, smoothstep
from tests.render.specs import IN, StripSpec
from tests.render.wood import linear

PX_PER_MM = 4
Surface = Callable[[np.ndarray, np.ndarray], np.ndarray]
MARKER_MM, PITCH_MM, STRIP_MM = 36.0, 50.0, 60.0


def _line(
    picture: np.ndarray, x0: float, y0: float, x1: float, y1: float, wide: float, ink: int
) -> None:
    """Draw an upright or level bar of millimetres, its ends and sides exact to a quarter mm."""
    a, b = sorted((x0, x1))
    c, d = sorted((y0, y1))
    if a == b:
        a, b = a - wide / 2, b + wide / 2
    else:
        c, d = c - wide / 2, d + wide / 2
    corners = np.array([[a, c], [b, c], [b, d], [a, d]]) * PX_PER_MM - 0.5
    cv2.fillConvexPoly(picture, np.round(corners * 16).astype(np.int32), ink, cv2.LINE_AA, 4)


def _digits(picture: np.ndarray, text: str, x: float, y: float, tall: float, ink: int) -> None:
    scale = tall * PX_PER_MM / 21.0  # a Hershey capital is 21 units high
    at = (round(x * PX_PER_MM), round(y * PX_PER_MM))
    cv2.putText(picture, text, at, cv2.FONT_HERSHEY_SIMPLEX, scale, ink, 1, cv2.LINE_AA)


def marker_corners(k: int) -> np.ndarray:
    """Return the nominal corners of marker k, strip frame, mm: round from the printed top left."""
    x, h = PITCH_MM * k + PITCH_MM / 2, MARKER_MM / 2
    return np.array([[x - h, h], [x + h, h], [x + h, -h], [x - h, -h]])


@lru_cache(maxsize=4)
def strip_picture(length_mm: float) -> np.ndarray:
    """Return the printed strip, grey (H, W): first row is the cm edge (y = +30)."""
    pieces = round(length_mm / 250)
    p = PX_PER_MM
    page = np.full((int(STRIP_MM * p), int(length_mm * p)), 255, dtype=np.uint8)
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    side = int(MARKER_MM * p)
    for k in range(pieces * 5):
        code = cv2.aruco.generateImageMarker(book, k, side)
        x = int((PITCH_MM * k + 7) * p)
        page[12 * p : 12 * p + side, x : x + side] = code
    for cm in range(1, int(length_mm / 10) + 1):  # cm on the board's side, the first rows
        long = cm % 5 == 0
        _line(page, cm * 10, 0, cm * 10, 5 if long else 3, 0.3, 0)
        _digits(page, str(cm), cm * 10 + 0.5, 5.4, 2.0, 0)
    for quarter in range(1, int(length_mm / (IN / 4)) + 1):
        x = quarter * IN / 4
        tall = 5 if quarter % 4 == 0 else 3 if quarter % 2 == 0 else 2
        _line(page, x, STRIP_MM - tall, x, STRIP_MM, 0.3, 0)
        if quarter % 4 == 0:
            _digits(page, str(quarter // 4), x + 0.5, STRIP_MM - 2.6, 2.4, 0)
    for j in range(1, pieces):
        x = j * 250.0
        _line(page, x, 0, x, STRIP_MM, 0.2, 150)
        for y, tip in ((0.5, 3.5), (STRIP_MM - 0.5, STRIP_MM - 3.5)):
            triangle = np.array([[x - 1.5, y], [x + 1.5, y], [x, tip]]) * p
            cv2.fillConvexPoly(page, np.round(triangle * 16).astype(np.int32), 0, cv2.LINE_AA, 4)
    for j in range(pieces):
        _digits(page, f"A {j + 1:02d}", j * 250.0 + 118, STRIP_MM - 1.0, 1.8, 60)
        cv2.arrowedLine(
            page,
            (round((j * 250 + 133) * p), round((STRIP_MM - 1.6) * p)),
            (round((j * 250 + 127) * p), round((STRIP_MM - 1.6) * p)),
            60,
            1,
            cv2.LINE_AA,
            tipLength=0.35,
        )
    page.setflags(write=False)
    return page


@lru_cache(maxsize=2)
def rule_picture(length_mm: float, width_mm: float) -> np.ndarray:
    """Return a steel rule's ink, grey (H, W): 255 bare, 0 filled; 16ths and 8ths of an inch."""
    p = PX_PER_MM
    ink = np.full((int(width_mm * p), int(length_mm * p)), 255, dtype=np.uint8)
    for i in range(1, round(length_mm / IN * 16)):
        x = i * IN / 16
        tall = (
            8
            if i % 16 == 0
            else 6.2
            if i % 8 == 0
            else 5
            if i % 4 == 0
            else 3.8
            if i % 2 == 0
            else 2.6
        )
        _line(ink, x, 0, x, tall, 0.22, 20)
        if i % 2 == 0:
            tall = 8 if i % 16 == 0 else 6.2 if i % 8 == 0 else 4.4 if i % 4 == 0 else 3.2
            _line(ink, x, width_mm - tall, x, width_mm, 0.22, 20)
    for inch in range(1, round(length_mm / IN)):
        for y in (12.2, width_mm - 9.0):
            scale = 3.4 * p / 21
            text = str(inch)
            (wide, _), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_DUPLEX, scale, 1)
            at = (round(inch * IN * p - wide - 3), round(y * p))
            cv2.putText(ink, text, at, cv2.FONT_HERSHEY_DUPLEX, scale, 25, 1, cv2.LINE_AA)
    centre = (round((length_mm - 9) * p), round(width_mm / 2 * p))
    cv2.circle(ink, centre, round(2.5 * p), 0, -1, cv2.LINE_AA)
    ink.setflags(write=False)
    return ink


class Ruler:
    """A reference as it lies: its print and joint errors, its surface, its colours."""

    def __init__(self, spec: StripSpec, surface: Surface | None = None) -> None:
        """``surface``: the height of what it lies on at points of the reference frame."""
        self.spec = spec
        self._surface = surface
        self.tall_mm = spec.batten_mm + spec.thickness_mm
        pieces = max(round(spec.length_mm / 250), 1)
        step = 250.0 * (1 + spec.print_along)
        starts = np.arange(pieces) * step + np.concatenate([[0.0], np.cumsum(spec.joints)])[:pieces]
        self._starts = starts
        self.true_length = float(starts[-1] + step if spec.kind == "strip" else spec.length_mm)
        # The batten sticks out a little past the paper.
        rng = np.random.default_rng((spec.seed, 41))
        self.over = (float(rng.uniform(2, 30)), float(rng.uniform(2, 60)))
        self._pine = int(rng.integers(1 << 20))
        self._sheen = float(rng.uniform(0, 6.28))
        self._rest = self._plane_above(surface) if surface and spec.batten_mm else np.zeros(3)
        along = np.linspace(0, self.true_length, 60)
        self.top_mm = float(self.height(along).max())

    def _plane_above(self, surface: Surface) -> np.ndarray:
        """Return the plane (1, x, y) on which a stiff batten rests."""
        half = self.spec.batten_width / 2
        gx, gy = np.meshgrid(np.linspace(0, self.true_length, 40), np.linspace(-half, half, 3))
        x, y = gx.ravel(), gy.ravel()
        bumps = np.asarray(surface(x, y), dtype=float)
        terms = np.column_stack([np.ones(len(x)), x, y])
        plane = np.linalg.lstsq(terms, bumps, rcond=None)[0]
        plane[0] += (bumps - terms @ plane).max()
        return np.asarray(plane)

    def base(self, x: np.ndarray, y: np.ndarray | float = 0.0) -> np.ndarray:
        """Return the height of what it lies on."""
        if self._surface is None:
            return np.zeros(np.shape(x), dtype=np.float32)
        if self.spec.batten_mm:
            return (self._rest[0] + self._rest[1] * x + self._rest[2] * y).astype(np.float32)
        return self._surface(x, y + 0 * x)

    def place(self, nominal: np.ndarray) -> np.ndarray:
        """Return reference-frame points (N, 3) of nominal points (N, 2) of the strip."""
        s = self.spec
        x, y = nominal[:, 0], nominal[:, 1]
        if s.kind == "strip":
            piece = np.clip((x // 250).astype(int), 0, len(self._starts) - 1)
            x = self._starts[piece] + (x - 250.0 * piece) * (1 + s.print_along)
            y = y * (1 + s.print_across) + self._bend(x)
        return np.column_stack([x, y, self.height(x, y)])

    def _bend(self, x: np.ndarray) -> np.ndarray:
        a = 2 * x / self.spec.length_mm - 1
        return self.spec.crook * (1 - a * a)

    def height(self, x: np.ndarray, y: np.ndarray | float = 0.0) -> np.ndarray:
        """Return the height of the printed (or engraved) surface over the floor."""
        a = 2 * x / self.spec.length_mm - 1
        sag = self.spec.sag if self._surface is None else 0.0
        return self.base(x, y) + self.tall_mm + sag * (1 - a * a)

    def nominal(self, x: F32, y: F32) -> tuple[F32, F32]:
        """Return nominal strip coordinates of points of the reference frame."""
        s = self.spec
        if s.kind != "strip":
            return x, y
        piece = np.clip(
            np.searchsorted(self._starts, x, side="right") - 1, 0, len(self._starts) - 1
        )
        inside = (x - self._starts[piece].astype(np.float32)) / np.float32(1 + s.print_along)
        return (
            (250.0 * piece + np.minimum(inside, 250.0)).astype(np.float32),
            ((y - self._bend(x)) / (1 + s.print_across)).astype(np.float32),
        )

    def box(self) -> tuple[float, float, float]:
        """Return x from, x to and half width of the whole reference with its batten."""
        s = self.spec
        if s.kind == "strip" and s.batten_mm:
            return -self.over[0], self.true_length + self.over[1], s.batten_width / 2
        return 0.0, self.true_length, s.width_mm / 2

    def top(self, x: F32, y: F32) -> F32:
        """Return linear albedo (N, 3) of the top, seen from above."""
        if self.spec.kind == "plain":
            return self._steel(x, y)
        nx, ny = self.nominal(x, y)
        page = strip_picture(self.spec.length_mm)
        column = np.clip(nx * PX_PER_MM - 0.5, 0, page.shape[1] - 1)
        row = np.clip((STRIP_MM / 2 - ny) * PX_PER_MM - 0.5, 0, page.shape[0] - 1)
        ink = lookup(page, column, row).astype(np.float32) / 255
        s = self._pine
        stain = 1 - 0.05 * np.clip(noise_2d(s, x, y, 60.0), 0, 2)
        # Creases and bubbles of the glued paper, thumb marks, sawdust.
        crease = noise_2d(s + 11, x * 0.9, y * 0.35, 17.0) + 0.6 * noise_2d(s + 12, x, y, 7.0)
        stain = stain * (1 + 0.035 * crease)
        smudge = smoothstep(1.3, 2.5, noise_2d(s + 13, x, y, 24.0))
        stain = stain * (1 - 0.16 * smudge * (1 + 0.4 * noise_2d(s + 14, x, y, 1.6)))
        stain = stain * (1 - 0.30 * smoothstep(2.5, 2.9, noise_2d(s + 15, x * 0.3, y, 3.0)))
        paper = np.float32([0.80, 0.80, 0.78])
        colour = (0.028 + ink[:, None] * (paper - 0.028)) * stain[:, None]
        bare = (x < 0) | (x > self.true_length) | (np.abs(ny) > STRIP_MM / 2)
        if bare.any():
            colour[bare] = self.wood(x[bare], y[bare])
        return colour

    def wood(self, x: F32, y: F32) -> F32:
        """Return the albedo of the batten: planed softwood."""
        grain = noise_2d(self._pine + 1, x * 0.03, y, 3.0) + 0.5 * noise_2d(
            self._pine + 2, x * 0.1, y, 1.2
        )
        return linear((214, 182, 134)) * np.exp(0.10 * grain)[:, None]

    def _steel(self, x: F32, y: F32) -> F32:
        ink_picture = rule_picture(self.spec.length_mm, self.spec.width_mm)
        column = np.clip(x * PX_PER_MM - 0.5, 0, ink_picture.shape[1] - 1)
        row = np.clip((self.spec.width_mm / 2 - y) * PX_PER_MM - 0.5, 0, ink_picture.shape[0] - 1)
        ink = lookup(ink_picture, column, row).astype(np.float32) / 255
        brushed = noise_2d(self._pine, x * 0.02, y, 0.7)
        sheen = (
            0.33
            + 0.15 * np.sin(x / 290 + self._sheen)
            + 0.06 * np.sin(x / 95 + y / 14 + self._sheen)
        )
        s = self._pine
        wear = noise_2d(s + 3, x, y, 45.0) + 0.6 * noise_2d(s + 4, x, y, 9.0)
        steel = sheen * np.exp(0.08 * brushed + 0.07 * wear)
        scratch = smoothstep(2.0, 2.6, noise_2d(s + 5, x * 0.05 + 0.3 * y, y, 1.4))
        steel = steel * (1 + 0.35 * scratch)
        colour = (0.03 + ink * (steel - 0.03))[:, None]
        colour = colour * np.float32([0.98, 1.0, 1.02])
        thumb = smoothstep(1.4, 2.4, noise_2d(s + 7, x, y, 18.0))
        ridges = 1 + 0.25 * np.sin(2.2 * np.hypot(x % 90 - 45, y * 1.3))
        colour = colour * (1 - 0.14 * thumb * ridges)[:, None]
        rust = smoothstep(2.2, 3.4, noise_2d(s + 8, x, y, 26.0) + 0.6 * noise_2d(s + 9, x, y, 4.0))
        return colour + (np.float32([0.16, 0.085, 0.045]) - colour) * (0.45 * rust)[:, None]
