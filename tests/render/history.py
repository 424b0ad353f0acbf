"""What years of work left on a floor: cracks, paint, oil, tyre marks, footprints, dust, scratches.

Drawn once per floor into two pictures of the floor's plane, then looked up point by point.
"""

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.render.fissures import MM, crack, craze
from tests.render.noise import F32, lookup, noise_2d, noises_2d, smoothstep, tinted
from tests.render.wood import linear

_MM = MM  # a pixel of the pictures
_LOW, _HIGH = np.array([-1800.0, -2400.0]), np.array([4400.0, 2600.0])
_PAINTS = (
    (226, 224, 216),
    (214, 176, 44),
    (70, 92, 128),
    (150, 52, 42),
    (60, 60, 58),
    (120, 138, 122),
)
F64 = NDArray[np.float64]


class History:
    """One floor's wear. ``kind`` is the floor's."""

    def __init__(self, seed: int, kind: str) -> None:
        self._rng = np.random.default_rng((seed, 443))
        self._seed = int(self._rng.integers(1 << 20))
        self._kind = kind
        wide, high = np.ceil((_HIGH - _LOW) / _MM).astype(int)
        self._shade = np.full((high, wide), 128, dtype=np.uint8)
        self._dust = np.zeros((high, wide), dtype=np.uint8)
        self._cover = np.zeros((high, wide), dtype=np.uint8)
        self._paint = np.zeros((high, wide, 3), dtype=np.uint8)
        self._mask = np.zeros((high, wide), dtype=np.uint8)  # to draw one thing on; then blank
        if kind == "concrete":
            self._years_of_concrete()
        elif kind == "asphalt":
            self._years_of_asphalt()
        else:
            self._years_of_plywood()

    # -- drawing ---------------------------------------------------------------------------------

    def _years_of_concrete(self) -> None:
        rng = self._rng
        for _ in range(int(rng.integers(0, 3))):
            self._patch()
        for _ in range(int(rng.integers(1, 4))):
            self._stains(int(rng.integers(1, 5)), (25, 170), (6, 34))
        if rng.random() < 0.25:
            self._stripe()
        if rng.random() < 0.4:
            self._tyre(14)
        for _ in range(int(rng.integers(1, 4))):
            self._crack(self._somewhere(), rng.uniform(0, 6.28), rng.uniform(700, 3800), 2)
        for _ in range(int(rng.integers(0, 4))):
            craze(self._shade, rng, self._sixteenths, self._somewhere())
        self._wear()

    def _years_of_asphalt(self) -> None:
        rng = self._rng
        for _ in range(int(rng.integers(0, 2))):
            self._patch()
        self._stains(int(rng.integers(1, 4)), (25, 150), (10, 40))
        if rng.random() < 0.15:
            self._stripe()
        if rng.random() < 0.5:
            self._tyre(22)
        for _ in range(int(rng.integers(1, 4))):
            self._crack(self._somewhere(), rng.uniform(0, 6.28), rng.uniform(900, 4000), 2)
        self._splash(int(rng.integers(0, 2)))

    def _years_of_plywood(self) -> None:
        self._stains(int(self._rng.integers(1, 5)), (15, 90), (8, 30))
        self._rings(int(self._rng.integers(0, 4)))
        self._wear()

    def _wear(self) -> None:
        rng = self._rng
        self._splash(int(rng.integers(1, 5)))
        for _ in range(int(rng.integers(20, 70))):
            self._scratch()
        for _ in range(int(rng.integers(0, 3))):
            self._steps()
        for _ in range(int(rng.integers(2, 7))):
            centre, size = self._somewhere(), rng.uniform(80, 500)
            axes = (int(size / _MM), int(size * rng.uniform(0.2, 0.8) / _MM))
            turn, thick = float(rng.uniform(0, 180)), int(rng.integers(60, 200))
            cv2.ellipse(self._mask, self._px(centre), axes, turn, 0, 360, thick, -1)
            box = self._box(centre[None], 1.9 * size + 60)
            layer = self._mask[box]
            small = cv2.resize(layer, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
            small = cv2.GaussianBlur(small, (0, 0), size / _MM / 20)
            soft = cv2.resize(small, layer.shape[::-1], interpolation=cv2.INTER_LINEAR)
            self._dust[box] = np.maximum(self._dust[box], soft)
            self._mask[box] = 0

    def _somewhere(self) -> F64:
        return np.asarray(self._rng.uniform(_LOW + 900, _HIGH - 900))

    def _sixteenths(self, points: F64) -> NDArray[np.int32]:
        """Return pixels times 16, as OpenCV draws, of floor points."""
        return np.round((points - _LOW) / _MM * 16).astype(np.int32)

    def _crack(self, at: F64, turn: float, long: float, branches: int) -> None:
        crack(self._shade, self._rng, self._sixteenths, at, turn, long, branches)

    def _px(self, point: F64) -> tuple[int, int]:
        x, y = np.round((np.asarray(point) - _LOW) / _MM).astype(int)
        return int(x), int(y)

    def _box(self, points: F64, spare: float) -> tuple[slice, slice]:
        """Return the rows and columns that hold floor points, ``spare`` mm round them."""
        high, wide = self._shade.shape
        x0, y0 = self._px(points.min(axis=0) - spare)
        x1, y1 = self._px(points.max(axis=0) + spare)
        return slice(max(y0, 0), min(max(y1, 0), high)), slice(max(x0, 0), min(max(x1, 0), wide))

    def _darken(self, points: F64, spare: float, by: float, blur: float = 0.0) -> None:
        """Darken the floor by what was drawn on the mask round some points; blank the mask."""
        box = self._box(points, spare)
        mask = self._mask[box]
        if mask.size:
            if blur:
                mask = cv2.GaussianBlur(mask, (0, 0), blur)
            # Most of a long track's box is bare: only what is drawn on is reckoned.
            at = np.flatnonzero(mask)
            shade = self._shade[box]
            drawn = mask.ravel()[at].astype(np.float32) * (by / 255)
            part = shade.ravel()[at].astype(np.float32) - drawn
            shade[np.unravel_index(at, mask.shape)] = np.clip(part, 0, 255).astype(np.uint8)
        self._mask[box] = 0

    def _patch(self) -> None:
        """Lay a mended place: another mix, its border ragged."""
        rng = self._rng
        a = np.sort(rng.uniform(0, 6.28, int(rng.integers(5, 10))))
        radius = rng.uniform(150, 700) * rng.uniform(0.6, 1.2, len(a))
        ring = self._somewhere() + np.column_stack([1.6 * np.cos(a), np.sin(a)]) * radius[:, None]
        corners = np.round((ring - _LOW) / _MM).astype(np.int32)
        cv2.fillPoly(self._mask, [corners], 255, cv2.LINE_AA)
        self._darken(ring, 10, float(rng.choice([-1, 1]) * rng.uniform(5, 14)))

    def _stains(self, count: int, size: tuple[float, float], deep: tuple[float, float]) -> None:
        """Draw spilt oil: drops that ran together, darker at the middle."""
        rng = self._rng
        for _ in range(count):
            centre, big = self._somewhere(), rng.uniform(*size)
            spots = []
            for _ in range(int(rng.integers(3, 26))):
                spot = centre + rng.normal(0, 0.8, 2) * big
                r = min(big * float(rng.lognormal(-1.3, 0.7)), 2 * big)
                axes = (max(int(r / _MM), 1), max(int(r * rng.uniform(0.6, 1) / _MM), 1))
                turn = float(rng.uniform(0, 180))
                cv2.ellipse(self._mask, self._px(spot), axes, turn, 0, 360, 255, -1)
                spots.append(spot)
            blur = float(rng.uniform(1.5, 6))
            self._darken(np.array(spots), 2 * big + 40, float(rng.uniform(*deep)), blur)

    def _rings(self, count: int) -> None:
        """Draw where cans stood."""
        for _ in range(count):
            r = int(self._rng.uniform(32, 80) / _MM)
            start = float(self._rng.uniform(0, 360))
            end = start + float(self._rng.uniform(120, 360))
            at = self._px(self._somewhere())
            cv2.ellipse(self._shade, at, (r, r), 0, start, end, 104, 2, cv2.LINE_AA)

    def _stripe(self) -> None:
        """Paint a line on the floor and let it wear."""
        rng = self._rng
        turn = float(rng.choice([0.0, np.pi / 2]) + rng.normal(0, 0.12))
        along = np.array([np.cos(turn), np.sin(turn)])
        middle = self._somewhere()
        ends = [middle + s * 4000 * along for s in (-1, 1)]
        wide = round(float(rng.uniform(50, 110)) / _MM)
        ink = _PAINTS[int(rng.choice([0, 1, 1, 3]))]
        cv2.line(self._paint, self._px(ends[0]), self._px(ends[1]), ink, wide + 4)
        cover = int(rng.uniform(62, 125))
        cv2.line(self._cover, self._px(ends[0]), self._px(ends[1]), cover, wide, cv2.LINE_AA)

    def _splash(self, count: int) -> None:
        """Draw paint that dripped or was sprayed past something's edge."""
        rng = self._rng
        for _ in range(count):
            centre, spread = self._somewhere(), rng.uniform(30, 330)
            ink = _PAINTS[int(rng.integers(len(_PAINTS)))]
            for _ in range(int(rng.integers(4, 60))):
                at = self._px(centre + rng.normal(0, 1, 2) * spread * [1.6, 0.7])
                r = float(np.clip(rng.lognormal(0.7, 0.7), 1.0, 16)) / _MM
                axes = (max(round(r * rng.uniform(1, 1.8)), 1), max(round(r), 1))
                turn = float(rng.uniform(0, 180))
                cv2.ellipse(self._paint, at, (axes[0] + 2, axes[1] + 2), turn, 0, 360, ink, -1)
                cover = int(rng.uniform(150, 255))
                cv2.ellipse(self._cover, at, axes, turn, 0, 360, cover, -1, cv2.LINE_AA)

    def _scratch(self) -> None:
        rng = self._rng
        at, turn, long = self._somewhere(), rng.uniform(0, 6.28), float(rng.gamma(2, 130))
        bow = rng.normal(0, 0.25)
        t = np.linspace(0, 1, 12)
        a = turn + bow * t
        path = at + np.cumsum(np.column_stack([np.cos(a), np.sin(a)]) * long / 12, axis=0)
        points = self._sixteenths(path)
        ink = int(128 + rng.choice([-1, 1, 1]) * rng.uniform(6, 26))
        cv2.polylines(self._shade, [points], False, ink, 1, cv2.LINE_AA, 4)

    def _tyre(self, deep: float) -> None:
        """Draw a pair of faint tyre tracks that bend a little."""
        rng = self._rng
        at, turn = self._somewhere(), rng.uniform(0, 6.28)
        t = np.linspace(-1, 1, 60)
        a = turn + rng.normal(0, 0.25) * t
        path = (
            at
            + np.cumsum(np.column_stack([np.cos(a), np.sin(a)]) * 110.0, axis=0)
            - 3300 * (np.array([np.cos(turn), np.sin(turn)]))
        )
        for lane in (-14, -5, 5, 14):
            off = np.column_stack([-np.sin(a), np.cos(a)]) * lane * 5.0
            line = self._sixteenths(path + off)
            cv2.polylines(self._mask, [line], False, 255, round(34 / _MM), cv2.LINE_AA, 4)
        self._darken(path, 160, float(rng.uniform(0.5, 1.0) * deep), 4.0)

    def _steps(self) -> None:
        """Draw a few boot prints in dust or mud."""
        rng = self._rng
        at, turn = self._somewhere(), rng.uniform(0, 6.28)
        steps = int(rng.integers(2, 6))
        for k in range(steps):
            side = 1 if k % 2 else -1
            ahead = np.array([np.cos(turn), np.sin(turn)])
            across = np.array([-ahead[1], ahead[0]])
            foot = at + 620 * k * ahead + 95 * side * across
            toes = turn + 0.15 * side
            for bar in np.linspace(-130, 130, 17):
                half = 46 * np.sqrt(max(1 - (bar / 150) ** 2, 0.1)) * (0.75 if bar < -20 else 1)
                if -35 < bar < -5:
                    continue
                line = np.array([[bar, -half], [bar + 6, 0], [bar, half]])
                c, s = np.cos(toes), np.sin(toes)
                line = foot + line @ np.array([[c, s], [-s, c]])
                points = self._sixteenths(line)
                cv2.polylines(self._mask, [points], False, 255, round(9 / _MM), cv2.LINE_AA, 4)
        ends = np.array([at, at + 620 * steps * np.array([np.cos(turn), np.sin(turn)])])
        self._darken(ends, 330, float(rng.choice([-1, 1]) * rng.uniform(5, 16)), 1.5)

    # -- looking ---------------------------------------------------------------------------------

    def lay(self, colour: F32, x: F32, y: F32, fp: F32) -> F32:
        """Return the floor's albedo (N, 3) with its wear laid in."""
        column = np.clip((x - _LOW[0]) / _MM, 0, self._shade.shape[1] - 1).astype(np.float32)
        row = np.clip((y - _LOW[1]) / _MM, 0, self._shade.shape[0] - 1).astype(np.float32)
        s = self._seed
        slow, fast = noises_2d(s + 5, x, y, 28.0), noises_2d(s + 6, x, y, 7.0)
        column = column + 1.6 * slow[:, 0] + 0.7 * fast[:, 0]
        row = row + 1.6 * slow[:, 1] + 0.7 * fast[:, 1]
        shade = (lookup(self._shade, column, row).astype(np.float32) - 128) / 64
        rough = slow[:, 2] + 0.8 * fast[:, 2]
        faint = np.abs(shade) < 0.7
        shade = np.where(faint, shade * np.clip(1 + 0.45 * rough, 0.1, 1.9), shade)
        colour = tinted(colour, np.exp(shade))
        cover = lookup(self._cover, column, row).astype(np.float32) / 255
        at = np.nonzero(cover)[0]
        if len(at):
            worn, uneven = cover[at], rough[at]
            kept = smoothstep(0.0, 0.45, worn - 0.30 + 0.20 * uneven * (1.1 - worn))
            rgb = lookup(self._paint, column[at], row[at]).astype(np.float32)
            ink = (rgb / 255) ** 2.2 * np.exp(0.06 * uneven)[:, None]
            colour[at] += (ink - colour[at]) * (0.86 * kept)[:, None]
        dust = lookup(self._dust, column, row).astype(np.float32) / 255
        at = np.nonzero(dust)[0]
        if len(at):
            lies = dust[at]
            grit = noise_2d(s + 2, x[at], y[at], 1.9, 0.3) + 0.6 * fast[at, 3]
            tan = linear((190, 166, 130)) * np.exp(0.15 * grit)[:, None]
            much = 0.55 * smoothstep(2.5, 3.8, grit + 2.6 * lies) + 0.16 * lies
            colour[at] += (tan - colour[at]) * much[:, None]
        return colour


@lru_cache(maxsize=2)
def history_of(seed: int, kind: str) -> History:
    """Return a floor's wear; drawn once for all photographs on it."""
    return History(seed, kind)
