"""Ground truth of a rendered board and photograph; both go to JSON and back.

Board frame as in the contract: looking at face 1 with end A at the left, x along the line through
the mid-widths of both ends, y down, z into the board; x = 0 and y = 0 at the smallest x and y of
face 1's outline. Face 2 is given as seen through the board.
"""

import itertools
import json
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.render.flaw_truth import FlawTruth, Ring, flaws_of, rounded
from tests.render.lie import Lie
from tests.render.rules import Ruler, marker_corners
from tests.render.shape import F64, Shape
from tests.render.specs import PhotoSpec

STATIONS = (0.04, 0.27, 0.50, 0.73, 0.96)


@dataclass(frozen=True)
class BoardTruth:
    """What is true of the board; mm, board frame."""

    id: str
    species: str
    length: float
    widths: list[list[float]]  # five of [x, width], face 1's flat face
    widths_face2: list[list[float]]
    thickness: float
    crook: float
    outline: dict[str, Ring]
    silhouette: Ring  # outermost wood, seen square on
    flaws: list[FlawTruth]
    model_turn: float  # board frame = turned and shifted model frame
    model_shift: list[float]
    bow: float = 0.0  # positive: face 1 hollow
    cup: float = 0.0
    twist: float = 0.0  # of the fourth corner

    def board_from_model(self, points: NDArray[np.floating]) -> F64:
        """Return board-frame points (N, 2) of model-frame ones."""
        c, s = np.cos(self.model_turn), np.sin(self.model_turn)
        return np.asarray(points, float) @ np.array([[c, s], [-s, c]]) + self.model_shift

    def model_from_board(self, points: NDArray[np.floating]) -> F64:
        """Return model-frame points (N, 2) of board-frame ones."""
        c, s = np.cos(self.model_turn), np.sin(self.model_turn)
        return (np.asarray(points, float) - self.model_shift) @ np.array([[c, -s], [s, c]])


@dataclass(frozen=True)
class PhotoTruth:
    """What is true of one photograph; pixels of the upright picture."""

    face: int
    turned: str | None  # face 2: "sideways" or "end_over_end"
    end_a_at: str  # "left", "right", "top", "bottom" of the upright picture
    size: list[int]
    focal: float
    centre: list[float]
    lens: list[float]  # k1 k2 k3 p1 p2
    R: list[list[float]]
    t: list[float]
    tilt_deg: float
    eye: list[float]
    rule_kind: str
    rule_corners_px: Ring  # zero end y+, far end y+, far end y-, zero end y-
    rule_height: float
    markers_px: dict[str, Ring]  # strip: id to four corners
    strip_true_mm: float | None
    strip_taped_mm: float | None
    face_height: float  # of a flat board: its thickness
    outline_px: Ring
    board_frame: list[float]  # reference = turn (2 x 2, row by row) board + shift (2)
    mm_per_px: list[float]  # at the board's left end, middle, right end in x of the board
    rule_on: str = "floor"  # or "face"
    # Height of the upper face over the floor: terms 1, x, y, xx, xy, yy of the board frame.
    face_surface: tuple[float, ...] | list[float] = ()

    def reference_from_board(self, points: NDArray[np.floating]) -> F64:
        """Return points (N, 3) of the reference frame of face points (N, 2), board frame."""
        m, p = np.array(self.board_frame), np.asarray(points, float)
        flat = p @ m[:4].reshape(2, 2).T + m[4:]
        x, y = p[:, 0], p[:, 1]
        terms = np.column_stack([np.ones(len(p)), x, y, x * x, x * y, y * y])
        surface = np.array(self.face_surface or [self.face_height, 0, 0, 0, 0, 0])
        return np.column_stack([flat, terms @ surface])

    def project(self, points: NDArray[np.floating]) -> F64:
        """Return photo pixels of reference-frame points (N, 3)."""
        seen = np.asarray(points, float) @ np.array(self.R).T + np.array(self.t)
        x, y = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2]
        k1, k2, k3, p1, p2 = self.lens
        r2 = x * x + y * y
        d = 1 + k1 * r2 + k2 * r2**2 + k3 * r2**3
        xd = x * d + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        yd = y * d + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        return np.column_stack([self.focal * xd + self.centre[0], self.focal * yd + self.centre[1]])

    def photo_from_face(self, points_mm: NDArray[np.floating]) -> F64:
        """Return photo pixels (N, 2) of points (N, 2) on the face, board frame, mm."""
        return self.project(self.reference_from_board(points_mm))


@dataclass(frozen=True)
class Truth:
    """All that is true of a photograph of a board."""

    board: BoardTruth
    photo: PhotoTruth

    def photo_from_face(self, points_mm: NDArray[np.floating]) -> F64:
        """Return photo pixels (N, 2) of points (N, 2) on the face, board frame, mm."""
        return self.photo.photo_from_face(points_mm)

    def to_json(self) -> str:
        return json.dumps({"board": asdict(self.board), "photo": asdict(self.photo)})

    @staticmethod
    def from_json(text: str) -> "Truth":
        raw = json.loads(text)
        return Truth(board_from_dict(raw["board"]), PhotoTruth(**raw["photo"]))


def board_from_dict(raw: dict[str, Any]) -> BoardTruth:
    """Return a board's truth from what JSON holds."""
    flaws = [FlawTruth(**f) for f in raw["flaws"]]
    return BoardTruth(**{**raw, "flaws": flaws})


def _ends(shape: Shape, z: float) -> F64:
    """Return the mid-widths of end A and end B of a face, model frame."""
    ring = shape.outline(z)
    n = len(ring) // 2
    low, high = np.vstack([ring[:1], ring[:n:-1]]), ring[1 : n + 1]
    return np.array([(low[0] + high[0]) / 2, (low[-1] + high[-1]) / 2])


def board_truth(shape: Shape) -> BoardTruth:
    """Return what is true of a board."""
    board = shape.board
    t = board.thickness_mm
    first, last = _ends(shape, 0.0)
    turn = -float(np.arctan2(*(last - first)[::-1]))
    c, s = np.cos(turn), np.sin(turn)
    rotate = np.array([[c, s], [-s, c]])
    outline = shape.outline(0.0) @ rotate
    shift = -outline.min(axis=0)
    length = float(np.linalg.norm(last - first))

    def moved(points: NDArray[np.floating]) -> F64:
        return np.asarray(points, float) @ rotate + shift

    rings = {"1": moved(shape.outline(0.0)), "2": moved(shape.outline(t))}
    return BoardTruth(
        id=board.id,
        species=board.species,
        length=round(length, 3),
        widths=_widths(rings["1"], length),
        widths_face2=_widths(rings["2"], length),
        thickness=round(t, 3),
        crook=round(board.crook, 3),
        bow=round(board.bow, 3),
        cup=round(board.cup, 3),
        twist=round(board.twist, 3),
        outline={f: rounded(r) for f, r in rings.items()},
        silhouette=rounded(moved(shape.outline(0.0, silhouette=True))),
        flaws=flaws_of(shape, moved),
        model_turn=turn,
        model_shift=[float(v) for v in shift],
    )


def _widths(ring: F64, length: float) -> list[list[float]]:
    found = []
    closed = np.vstack([ring, ring[:1]])
    for share in STATIONS:
        x = share * length
        ys = []
        for (x0, y0), (x1, y1) in itertools.pairwise(closed):
            if (x0 - x) * (x1 - x) <= 0 and x0 != x1:
                ys.append(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
        found.append([round(x, 2), round(max(ys) - min(ys), 3)])
    return found


def photo_truth(shape: Shape, photo: PhotoSpec, ruler: Ruler, board: BoardTruth) -> PhotoTruth:
    """Return what is true of a photograph of a board of which all is known."""
    camera = photo.camera
    a = np.radians(photo.board_deg)
    sx = -1.0 if photo.reversed else 1.0
    sy = -sx if photo.face == 1 else sx
    lay = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) @ np.diag([sx, sy])
    # reference = lay (model - (L/2, 0)) + place; model = rotate (board - shift)
    c, s = np.cos(board.model_turn), np.sin(board.model_turn)
    rotate = np.array([[c, s], [-s, c]])
    matrix = lay @ rotate
    place = np.array([photo.board_x, photo.board_y])
    moved = place - lay @ np.array([shape.board.length_mm / 2, 0]) - matrix @ board.model_shift
    corners = ruler.place(_rule_corners(photo, ruler))
    markers: dict[str, Ring] = {}
    if photo.rule.kind == "strip":
        for k in range(round(photo.rule.length_mm / 50)):
            markers[str(k)] = rounded(camera.project(ruler.place(marker_corners(k))), 3)
    truth = PhotoTruth(
        face=photo.face,
        turned=photo.turned if photo.face == 2 else None,
        end_a_at="",
        size=list(camera.size),
        focal=camera.focal,
        centre=[camera.cx, camera.cy],
        lens=list(camera.lens),
        R=[list(row) for row in camera.turn],
        t=list(camera.shift),
        tilt_deg=float(np.degrees(np.arccos(-camera.R[2, 2]))),
        eye=[float(v) for v in camera.centre],
        rule_kind=photo.rule.kind,
        rule_corners_px=rounded(camera.project(corners), 3) if photo.rule.kind != "none" else [],
        rule_height=float(ruler.height(np.float64(photo.rule.length_mm / 2))),
        rule_on=photo.rule.on,
        markers_px=markers,
        strip_true_mm=ruler.true_length if photo.rule.kind == "strip" else None,
        strip_taped_mm=photo.rule.taped_mm,
        face_height=shape.board.thickness_mm,
        face_surface=Lie(shape.board, photo.face).face_in(
            rotate, -rotate @ np.array(board.model_shift)
        ),
        outline_px=[],
        board_frame=[float(v) for v in (*matrix.ravel(), *moved)],
        mm_per_px=[],
    )
    outline = np.array(board.outline[str(photo.face)])
    middle = outline[:, 1].mean()
    scale, ends = [], []
    for x in (0.0, board.length / 2, board.length):
        pair = truth.photo_from_face(np.array([[x - 5, middle], [x + 5, middle]]))
        scale.append(round(10 / float(np.linalg.norm(pair[1] - pair[0])), 4))
        ends.append(pair.mean(axis=0))
    along = ends[2] - ends[0]
    if abs(along[0]) >= abs(along[1]):
        at = "left" if along[0] > 0 else "right"
    else:
        at = "top" if along[1] > 0 else "bottom"
    return PhotoTruth(
        **{
            **asdict(truth),
            "end_a_at": at,
            "outline_px": rounded(truth.photo_from_face(outline)),
            "mm_per_px": scale,
        }
    )


def _rule_corners(photo: PhotoSpec, ruler: Ruler) -> F64:
    half, long = photo.rule.width_mm / 2, photo.rule.length_mm
    return np.array([[0, half], [long - 1e-6, half], [long - 1e-6, -half], [0, -half]])
