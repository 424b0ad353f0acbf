"""The flat face of each photo and of all together, with what tells where the board's sides show."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from shapely import affinity
from skimage.draw import polygon

from scanner.geometry.polygons import union_of
from scanner.vision.photos.picture import FacePicture
from scanner.vision.rectify import flatten, view_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo
    from scanner.vision.rectify import FacePlace

FACE_MM_PER_PX = 0.5
# The batten is up to 70 mm wide under 60 mm of strip, and it and the rule cast a contact shadow.
_BATTEN_RIM_MM = 9.0
# And it runs on past both ends of the paper (common practice, no source).
_BATTEN_END_MM = 60.0


def own_views(
    photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace
) -> tuple[FacePicture, ...]:
    """Return the flat face as each photo alone shows it; the rule counts as unseen.

    All have the size and origin of the place. Each knows its own camera's foot: what one photo
    shows of a side is hidden in another.
    """
    return tuple(_own_view(photos, fit, place, index) for index in range(len(photos)))


def face_picture(
    photos: tuple[Photo, ...],
    fit: ScaleFit,
    place: FacePlace,
    views: tuple[FacePicture, ...],
) -> FacePicture:
    """Return the flat face of all photos, each shown where its camera stands nearest.

    Unseen is what a photo hides under the rule and no other photo shows.
    """
    if len(views) == 1:
        return views[0]
    joined = flatten(photos, fit, place, FACE_MM_PER_PX)
    seen = np.any([view.seen for view in views], axis=0)
    return replace(joined, seen=seen, foot_mm=views[0].foot_mm, side_share=views[0].side_share)


def _own_view(
    photos: tuple[Photo, ...], fit: ScaleFit, place: FacePlace, index: int
) -> FacePicture:
    if len(photos) == 1:
        picture = flatten(photos, fit, place, FACE_MM_PER_PX)
    else:
        pixels, inside = view_of(photos[index], fit, index, place, FACE_MM_PER_PX)
        pixels[~inside] = 0
        picture = FacePicture(
            pixels, FACE_MM_PER_PX, (0.0, 0.0), fit.u_scale, fit.u_point_mm, inside
        )
    foot = place.place_from_rule(fit.foot_mm(index)[None])[0]
    rule = _rule_pixels(fit, place, index, picture.seen.shape)
    return replace(
        picture,
        seen=picture.seen & ~rule,
        rule=picture.seen & rule,
        foot_mm=(float(foot[0]), float(foot[1])),
        side_share=fit.side_share(index),
    )


def _rule_pixels(
    fit: ScaleFit, place: FacePlace, index: int, shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Return which pixels of a photo's flat face show the rule or the batten under the strip."""
    painted = np.zeros(shape, dtype=bool)
    if fit.setup.rule_on == "face":
        return painted
    area = fit.rule_area_mm(index).buffer(_BATTEN_RIM_MM)
    # The foot of the batten's side shows nearer to the camera's foot than its top does.
    rise = (fit.setup.batten_mm or 0.0) * fit.side_share(index) / fit.setup.thickness.value_mm
    down = rise * (float(fit.foot_mm(index)[1]) - area.centroid.y)
    moves = [(-_BATTEN_END_MM, 0), (0, 0), (_BATTEN_END_MM, 0)]
    moves += [(along, down) for along, _ in moves]
    area = union_of([affinity.translate(area, *move) for move in moves])
    for ring in getattr(area, "geoms", (area,)):
        corners = place.place_from_rule(np.array(ring.exterior.coords)) / FACE_MM_PER_PX
        rows, columns = polygon(corners[:, 1], corners[:, 0], shape)
        painted[rows, columns] = True
    return painted
