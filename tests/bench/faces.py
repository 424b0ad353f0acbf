"""Flat faces of rendered boards with their truth, quickly: of each photograph only the board.

What `tests.bench.seeing.recipe` stands for, without the floor further off and without the rule:
seconds a face instead of half a minute, kept in ``.cache/faces``. For fitting the finders and for
measuring them by themselves; whole photographs through the whole scan are `tests.bench.floor`'s.
"""

import os
import pickle
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.vision.photos.picture import FacePicture
from tests.bench.near_board import photographed
from tests.bench.seeing import View, flattened, on_ground, recipe, view_around
from tests.render import photo as photos
from tests.render.cache import _code_hash
from tests.render.second_look.raking import RakedStage, raking_photo
from tests.render.specs import spec_hash
from tests.render.stage import Stage

FOLDER = Path(__file__).resolve().parents[2] / ".cache" / "faces"
MM_PER_PX = 0.5
_CUT_MM = 40.0  # of the floor that the whole scan would show


@dataclass(frozen=True)
class FlatFace:
    """A face through its true camera, and what is true of it in the picture's own mm.

    ``flaws`` holds (kind, truth of the whole flaw, its polygon on this face).
    """

    name: str
    picture: FacePicture
    outline: Polygon
    flaws: tuple
    species: str
    truth: object


def flat_face(seed: int, face: int, *, strewn: bool = False) -> FlatFace:
    """Return one face of a seed's board, rendered unless it was before.

    ``strewn`` lays litter and blades of grass in, as in a whole photograph.
    """
    board, photo = recipe(seed, face)
    kept = "-strewn" if strewn else ""
    path = FOLDER / f"{spec_hash(board, photo)[:20]}-{_code_hash()}{kept}.face"
    if not path.exists():
        FOLDER.mkdir(parents=True, exist_ok=True)
        made = _made(f"{seed}-{face}", board, photo, strewn=strewn)
        draft = path.with_suffix(f".{os.getpid()}")
        draft.write_bytes(pickle.dumps(made))
        draft.replace(path)
    return _opened(*pickle.loads(path.read_bytes()))


def flat_faces(seeds: range):
    """Yield both faces of every seed."""
    for seed in seeds:
        for face in (1, 2):
            yield flat_face(seed, face)


def raked_face(seed: int, face: int) -> FlatFace:
    """Return the same face under a low lamp, from where the phone was held for it."""
    board, photo = recipe(seed, face)
    second = raking_photo(board, photo)
    path = FOLDER / f"{spec_hash(board, second)[:20]}-{_code_hash()}-raked.face"
    if not path.exists():
        FOLDER.mkdir(parents=True, exist_ok=True)
        made = _made(f"{seed}-{face}", board, second, strewn=False, stage_of=RakedStage)
        draft = path.with_suffix(f".{os.getpid()}")
        draft.write_bytes(pickle.dumps(made))
        draft.replace(path)
    return _opened(*pickle.loads(path.read_bytes()))


def _made(name, board, photo, *, strewn, stage_of=Stage):
    truth = photos.truth_of(board, photo)
    covered = Polygon(truth.photo.photo_from_face(np.array(truth.board.silhouette))).buffer(40)
    part, (left, top) = photographed(board, photo, covered, strewn=strewn, stage_of=stage_of)
    width, height = photo.camera.size
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[top : top + part.shape[0], left : left + part.shape[1]] = part
    outline, view = outline_and_view(truth)
    flat = flattened(pixels, truth, view, MM_PER_PX)
    true = view.polygon(outline)
    side = str(truth.photo.face)
    flaws = tuple(
        (flaw.kind, flaw, view.polygon(on_ground(truth, ring)))
        for flaw in truth.board.flaws
        for ring in flaw.outlines.get(side, [])
        if len(ring) > 2
    )
    kept = cv2.imencode(".png", flat.pixels)[1]
    return name, kept, flat.seen.all(), true, flaws, board.species, truth


def outline_and_view(truth) -> tuple[Polygon, View]:
    """Return the true face on the ground, and the rectangle of the ground that shows it."""
    outline = on_ground(truth, truth.board.outline[str(truth.photo.face)])
    ends = np.asarray(outline.minimum_rotated_rectangle.exterior.coords)
    long = max(np.diff(ends, axis=0), key=lambda v: float(np.hypot(*v)))
    long = long if long[0] > 0 else -long
    return outline, _close_view(outline, float(np.arctan2(long[1], long[0])))


def _close_view(outline, angle: float) -> View:
    wide = view_around(outline, angle)
    x, y = wide.to_ground([[_CUT_MM, _CUT_MM]])[0]
    return View(float(x), float(y), angle, wide.width - 2 * _CUT_MM, wide.height - 2 * _CUT_MM)


def _opened(name, kept, all_seen, outline, flaws, species, truth):
    pixels = cv2.imdecode(kept, cv2.IMREAD_COLOR)
    seen = np.ones(pixels.shape[:2], bool)
    # Where the camera stood a scan knows from its fit: what it then knows of the board's sides
    # belongs to tracing.
    eye = truth.photo.eye
    foot = outline_and_view(truth)[1].from_ground([[eye[0], -eye[1]]])[0]
    picture = FacePicture(
        pixels,
        MM_PER_PX,
        (0.0, 0.0),
        0.0006,
        0.5,
        seen,
        (float(foot[0]), float(foot[1])),
        truth.photo.face_height / eye[2],
    )
    return FlatFace(name, picture, outline, flaws, species, truth)
