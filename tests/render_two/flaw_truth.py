"""The truth of a plank: outlines and flaws as polygons in board millimetres."""

import cv2
import numpy as np
from shapely.geometry import Polygon

from tests.render_two.truth import BoardTruth, TrueFlaw

_MM = 0.25


def truth_of(plank) -> BoardTruth:
    """Return what is true of a plank."""
    form = plank.form
    outline = {str(face): _points(form.outline(face)) for face in (1, 2)}
    flaws = [*_knots(plank), *_cracks(plank)]
    flaws += [
        TrueFlaw(p.kind, p.look, {str(f): [_points(r)] for f, r in p.rings.items()},
                 through=len(p.rings) == 2)
        for p in plank.patches
    ]  # fmt: skip
    for face in (1, 2):
        for ring in form.wane_rings(face):
            flaws.append(TrueFlaw("wane", "wane", {str(face): [_points(ring)]}))
    flaws += _pith(plank)
    return BoardTruth(
        plank.species.name, plank.length, plank.width, plank.thickness, outline, tuple(flaws)
    )


def _points(ring):
    return [(float(a), float(b)) for a, b in ring]


def knot_ring(branch, z, form):
    """Return where a branch shows on the plane z, None where it does not; board mm."""
    # Where the cone comes near the plane, not only its axis: a steep one shows beside its start.
    s = np.linspace(0.5, min(branch.end_mm, 400.0), 400)
    wide = 1.35 * (branch.radius(s) + branch.bark(s)) + 0.5
    near = np.abs(branch.base[2] + s * branch.way[2] - z) <= wide
    if not near.any():
        return None
    axis = branch.base[:2] + s[near, None] * branch.way[:2]
    x0, y0 = (axis - wide[near, None]).min(axis=0)
    x1, y1 = (axis + wide[near, None]).max(axis=0)
    x0, x1 = max(x0, form.x[0] - 5), min(x1, form.x[-1] + 5)
    y0, y1 = max(y0, form.top.min() - 5), min(y1, form.bottom.max() + 5)
    if x1 - x0 < 1 or y1 - y0 < 1:
        return None
    step = _MM if x1 - x0 < 150 else 2 * _MM
    x, y = np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step))
    along, p, q = branch.seen_from(x, y, np.full(x.shape, z))
    share, _, _ = branch.outer(along, p, q)
    mask = ((share < 1) & branch.is_wood(along, share)).astype(np.uint8)
    found, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not found:
        return None
    ring = max(found, key=cv2.contourArea)[:, 0] * step + [x0, y0]
    if len(ring) < 8:
        return None
    # The contour runs through the middles of the outermost pixels: half a pixel too small.
    shape = Polygon(ring).buffer(step / 2).simplify(0.1)
    shape = shape.intersection(Polygon(form.silhouette()))
    if shape.is_empty or shape.geom_type != "Polygon" or shape.area < 3:
        return None
    return _points(np.asarray(shape.exterior.coords)[:-1])


def _knots(plank):
    for branch in plank.solid.branches:
        outlines = {}
        for face, z in (("1", 0.0), ("2", plank.thickness)):
            ring = knot_ring(branch, z, plank.form)
            if ring is not None:
                outlines[face] = [ring]
        if outlines:
            sound = branch.look == "sound"
            yield TrueFlaw("knot", branch.look, outlines, sound, len(outlines) == 2)


def _cracks(plank):
    whole = Polygon(plank.form.silhouette())
    for crack in plank.cracks:
        outlines = {}
        for trace in crack.traces:
            shape = Polygon(trace.ring()).buffer(0).intersection(whole)
            if shape.geom_type == "MultiPolygon":
                shape = max(shape.geoms, key=lambda g: g.area)
            if shape.geom_type == "Polygon" and shape.area > 0.5:
                outlines[str(trace.face)] = [_points(np.asarray(shape.exterior.coords)[:-1])]
        if outlines:
            reach = crack.reach if crack.look == "end" else None
            yield TrueFlaw(
                crack.kind,
                crack.look,
                outlines,
                None,
                len(outlines) == 2,
                crack.opening,
                crack.usual,
                reach,
            )


def _pith(plank):
    if not plank.has_pith:
        return
    x = plank.form.x
    py, pz = plank.solid.stem.pith_at(x)
    for face, z in (("1", 0.0), ("2", plank.thickness)):
        near = np.abs(pz - z) < 2.0
        if near.sum() > 8:
            at = np.flatnonzero(near)
            x0, x1 = x[at[0]], x[at[-1]]
            y = py[at[0] : at[-1] + 1]
            xs = np.linspace(x0, x1, len(y))
            ring = np.concatenate(
                [np.column_stack([xs, y - 2]), np.column_stack([xs, y + 2])[::-1]]
            )
            yield TrueFlaw("pith", "pith", {face: [_points(ring)]})
