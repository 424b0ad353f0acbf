"""An end or an edge square on: the flat surface between four tapped corners.

What lies in its plane gives the scale: a board card, the coded strip, or a plain rule whose corners
are tapped too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np

from scanner.errors import PhotoError
from scanner.geometry.strip_layout import CARD_MARKER_MM, corners_mm, position_of
from scanner.vision.cv import Floats, grey_of
from scanner.vision.rule.cards import find_cards
from scanner.vision.rule.strip import find_strip

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.photos.picture import Photo
    from scanner.vision.setup import Corners, RuleSize

Kind = Literal["card", "strip", "rule"]

# A corner of a printed marker is found to this, 1 sd, px: white blooms over black.
_CORNER_PX = 0.3
# Paper is printed and cut to this share; tapped rule corners lie within so many px.
_PRINT_SHARE = 0.002
_TAP_PX = 2.0
# Sides of one rectangle that differ by more were tapped wrongly, or the plane is another one.
_MOST_UNLIKE = 0.12
_LARGEST_PX = 12_000
_DRAWS = 40


@dataclass(frozen=True, slots=True, eq=False)
class FlatSide:
    """The surface (H, W, 3) square on.

    Attributes
    ----------
    size_mm
        Along its first tapped side and across.
    u_scale
        Relative U of its lengths.
    photo_from_side, plane_from_photo
        (3, 3): photo px of points of the surface, mm from its first tapped corner; and mm of the
        plane in which card, strip or rule lies, of photo px.
    margin_mm
        Of what lies beyond the tapped corners and is shown too.
    """

    pixels: NDArray[np.uint8]
    mm_per_px: float
    size_mm: tuple[float, float]
    u_scale: float
    kind: Kind
    photo_from_side: Floats
    plane_from_photo: Floats
    margin_mm: float

    def distance_mm(self, p: tuple[float, float], q: tuple[float, float]) -> float:
        """Return the distance of two pixels of the picture by the plane's own scale.

        Tapped corners bend the picture a little; card and strip do not know of them.
        """
        mm = self.mm_per_px
        points = [
            [x * mm + mm / 2 - self.margin_mm, y * mm + mm / 2 - self.margin_mm] for x, y in (p, q)
        ]
        seen = cv2.perspectiveTransform(np.array([points]), self.photo_from_side)
        ends = cv2.perspectiveTransform(seen, self.plane_from_photo)[0]
        return float(np.linalg.norm(ends[1] - ends[0]))


def flat_side(
    photo: Photo,
    corners: Corners,
    *,
    rule: RuleSize | None = None,
    rule_corners: Corners | None = None,
    mm_per_px: float = 0.2,
    margin_mm: float = 0.0,
) -> FlatSide:
    """Return the surface between four tapped corners, in the order top left, clockwise.

    Raises
    ------
    PhotoError
        Nothing of known size lies in the picture, or the corners make no rectangle in its plane.
    """
    known = _known(photo, rule, rule_corners)
    taps = np.array(corners, dtype=np.float64)
    sides = _sides(taps, known.seen_px, known.there_mm)
    for a, b in ((sides[0], sides[2]), (sides[1], sides[3])):
        if abs(a - b) > _MOST_UNLIKE * max(a, b) or not np.isfinite(a + b):
            raise PhotoError(
                f"The four corners in {photo.name} make sides of {a:.0f} and {b:.0f} mm where one"
                " rectangle has two alike",
                "hold card or rule flat against the same surface, and tap the corners again",
            )
    length, width = float(sides[[0, 2]].mean()), float(sides[[1, 3]].mean())
    there = np.array([[0, 0], [length, 0], [length, width], [0, width]])
    # The rectangle itself tells the tilt better than a small card at its side.
    onto = cv2.getPerspectiveTransform(there.astype(np.float32), taps.astype(np.float32))
    columns = round((length + 2 * margin_mm) / mm_per_px)
    rows = round((width + 2 * margin_mm) / mm_per_px)
    if max(columns, rows) > _LARGEST_PX:
        raise PhotoError(
            f"The corners in {photo.name} are {length:.0f} by {width:.0f} mm apart",
            "see that they are the corners of the end or edge, and that the rule's size is right",
        )
    pixel = np.array([[mm_per_px, 0, mm_per_px / 2 - margin_mm],
                      [0, mm_per_px, mm_per_px / 2 - margin_mm],
                      [0, 0, 1.0]])  # fmt: skip
    shown = cv2.warpPerspective(
        photo.pixels, onto @ pixel, (columns, rows), flags=cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    )
    return FlatSide(
        pixels=np.asarray(shown, dtype=np.uint8),
        mm_per_px=mm_per_px,
        size_mm=(length, width),
        u_scale=_u_scale(taps, sides, known),
        kind=known.kind,
        photo_from_side=np.asarray(onto, dtype=np.float64),
        plane_from_photo=_plane(known.seen_px, known.there_mm),
        margin_mm=margin_mm,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """Points of known place in the plane (N, 2) mm, where they are seen, and how well, 1 sd px."""

    kind: Kind
    seen_px: Floats
    there_mm: Floats
    sd_px: float


def _plane(seen_px: Floats, there_mm: Floats) -> Floats:
    """Return mm of the plane from photo px, (3, 3)."""
    moved, _ = cv2.findHomography(seen_px, there_mm)
    return np.asarray(moved, dtype=np.float64)


def _sides(taps: Floats, seen_px: Floats, there_mm: Floats) -> Floats:
    """Return the four sides between tapped corners, mm."""
    on_plane = cv2.perspectiveTransform(taps[None], _plane(seen_px, there_mm))[0]
    return np.asarray(np.linalg.norm(np.roll(on_plane, -1, axis=0) - on_plane, axis=1))


def _u_scale(taps: Floats, sides: Floats, known: _Known) -> float:
    """Return the relative U of the sides: what the points' own errors do so far from them.

    A small card tells the tilt badly: drawn errors say how badly at the surface's far end
    (JCGM 101:2008, propagation by drawing).
    """
    rng = np.random.default_rng(0)
    drawn = []
    for _ in range(_DRAWS):
        off = rng.normal(0, known.sd_px, known.seen_px.shape)
        moved = _sides(taps, known.seen_px + off, known.there_mm)
        drawn.append([moved[[0, 2]].mean() / sides[[0, 2]].mean(),
                      moved[[1, 3]].mean() / sides[[1, 3]].mean()])  # fmt: skip
    spread = float(np.std(drawn, axis=0).max())
    return 2 * float(np.hypot(spread, _PRINT_SHARE / 2))


def _known(photo: Photo, rule: RuleSize | None, rule_corners: Corners | None) -> _Known:
    """Return what of known size lies in the plane: a tapped rule, else a card, else the strip."""
    if rule is not None:
        if rule_corners is None or rule.width_mm is None:
            raise PhotoError(
                f"The rule in {photo.name} is known by its length only",
                "give its width too (--rule 36in x 28mm) and tap its four corners (--rule-corners)",
            )
        long, wide = rule.length_mm, rule.width_mm
        there = np.array([[0, 0], [long, 0], [long, wide], [0, wide]])
        return _Known("rule", np.array(rule_corners, dtype=np.float64), there, _TAP_PX)
    grey = grey_of(photo.pixels)
    cards = find_cards(photo, grey)
    if cards:
        corners = np.ascontiguousarray(cards[0].corners_px, dtype=np.float32)
        cv2.cornerSubPix(
            grey, corners, (5, 5), (-1, -1),
            (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01),
        )  # fmt: skip
        square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]]) * CARD_MARKER_MM
        return _Known("card", corners.astype(np.float64), square, _CORNER_PX)
    strip = find_strip(photo, grey)
    if strip is not None and len(strip.ids):
        spots = [position_of(int(one)) for one in strip.ids]
        keep = [n for n, spot in enumerate(spots) if spot is not None and spot.reference in "AB"]
        if keep:
            there = np.vstack([corners_mm(spots[n].number) * [1, -1] for n in keep])  # type: ignore[union-attr]
            return _Known("strip", strip.corners[keep].reshape(-1, 2), there, _CORNER_PX)
    raise PhotoError(
        f"Nothing of known size is seen in {photo.name}",
        "hold a board card or a piece of the strip flat against the wood, or tap a rule's corners",
    )
