"""Both faces laid over each other: the flip found, how well they lie, other boards refused.

``python -m tests.bench.flaws --seeds 8000-8049 --keep found.pickle`` first, then
``python -m tests.bench.both_faces found.pickle``: outlines as tracers give them (up to 1 mm off),
flaws as the finders gave them, wane as it was traced; with ``--traced`` outlines too are as they
were traced. Other boards are asked for in two ways: as they are, and brought to the first board's
length and width with their own edges, ends and wane, so that their size tells nothing.
"""

import argparse
import pickle
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely import affinity, transform
from shapely.geometry import Polygon, box

from scanner.board.board import Station
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.join import JoinedFaces, join_faces
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES, FaceReading, mid_line, span_along_y_mm
from scanner.errors import BoardError, ScannerError
from scanner.vision.outline.trace import trace_outline
from tests.bench.faces import FlatFace, flat_face
from tests.bench.figures import Figure, share_text
from tests.bench.flaws import off_outline
from tests.bench.seeing import on_ground, seen_on_ground

_NEAR_MM = 1.5
_THICK_MM = 27.0
_NAMES = ("face 1", "face 2")
_SAME_SIZE = (0.6, 1.7)
_OTHERS = 12
_RIM_MM = 8.0


def reading_of(face: FlatFace, flaws, wane, outline: Polygon) -> tuple[FaceReading, np.ndarray]:
    """Return a face as the scan would read it, and the move (2, 3) from picture mm to its frame."""
    a, b = mid_line(outline)
    turn = -np.arctan2(b[1] - a[1], b[0] - a[0])
    upright = affinity.rotate(outline, turn, origin=(0, 0), use_radians=True)
    low_x, low_y, *_ = upright.bounds
    c, s = np.cos(turn), np.sin(turn)
    move = np.array([[c, -s, -low_x], [s, c, -low_y]])

    def moved(shape: Polygon) -> Polygon:
        return affinity.affine_transform(shape, [c, -s, s, c, -low_x, -low_y])

    found = [replace(flaw, outlines={1: moved(flaw.outlines[1])}) for flaw in flaws]
    for number, shape in enumerate(wane):
        told = {1: moved(shape)}
        found.append(Flaw(id=f"W{number}", kind=FlawKind.WANE, outlines=told, score=0.9, u_mm=1.0))
    return _measured(moved(outline), tuple(found)), move


def _measured(outline: Polygon, flaws) -> FaceReading:
    a, b = mid_line(outline)
    long = float(np.hypot(b[0] - a[0], b[1] - a[1]))
    stations = []
    for share in STATION_SHARES:
        x = a[0] + share * (b[0] - a[0])
        span = span_along_y_mm(outline, x)
        if span:
            stations.append(Station(x, Measured(span[1] - span[0], 1.2)))
    return FaceReading(outline, flaws, Measured(long, 2.5), tuple(stations), 0.0, 0.5)


def picture_from_board(face: FlatFace):
    """Return the move of board mm on this face to the flat picture's mm, by its outline."""
    side = str(face.truth.photo.face)
    ground = np.asarray(on_ground(face.truth, face.truth.board.outline[side]).exterior.coords)
    flat = np.asarray(face.outline.exterior.coords)
    middles = ground.mean(axis=0), flat.mean(axis=0)
    u, _, vt = np.linalg.svd((ground - middles[0]).T @ (flat - middles[1]))
    turn = vt.T @ u.T
    off = (ground - middles[0]) @ turn.T + middles[1] - flat
    if np.abs(off).max() > 0.2:
        raise ValueError(f"{face.name}: its outline is not its truth's, {np.abs(off).max():.1f} mm")

    def move(points):
        return (seen_on_ground(face.truth, points) - middles[0]) @ turn.T + middles[1]

    return move


def places_off_mm(faces, moves, second: FaceReading, joined: JoinedFaces) -> np.ndarray:
    """Return by how much places of face 2 lie off those of face 1, mm, on a grid of the board."""
    ring = np.asarray(faces[0].truth.board.outline["1"])
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    gx, gy = np.meshgrid(np.linspace(x0, x1, 9), np.linspace(y0, y1, 3))
    grid = np.column_stack([gx.ravel(), gy.ravel()])
    seen = [
        picture_from_board(face)(grid) @ move[:, :2].T + move[:, 2]
        for face, move in zip(faces, moves, strict=True)
    ]
    _, _, long, wide = second.outline.bounds
    over = seen[1].copy()
    if joined.turned == "sideways":
        over[:, 1] = wide - over[:, 1]
    else:
        over[:, 0] = long - over[:, 0]
    c, s = np.cos(joined.turn_rad), np.sin(joined.turn_rad)
    over = over @ np.array([[c, s], [-s, c]]) + joined.shift_mm
    return np.linalg.norm(over - seen[0], axis=1)


def true_turn(faces, moves) -> str:
    """Return how face 2's own view has to be mirrored to lie over face 1's."""
    along = []
    for face, move in zip(faces, moves, strict=True):
        ring = np.asarray(face.truth.board.outline["1"])
        ends = np.array([[ring[:, 0].min(), 0.0], [ring[:, 0].max(), 0.0]])
        seen = picture_from_board(face)(ends) @ move[:, :2].T + move[:, 2]
        along.append(seen[1, 0] > seen[0, 0])
    return "sideways" if along[0] == along[1] else "end_over_end"


def _brought_to(other: FaceReading, first: FaceReading) -> FaceReading | None:
    """Return another board's face at a board's size, or None where sizes differ too much.

    What lies at its edges and ends moves with them, so that they keep their own course.
    """
    (_, _, long, wide), (_, _, own, broad) = first.outline.bounds, other.outline.bounds
    if not all(_SAME_SIZE[0] <= share <= _SAME_SIZE[1] for share in (long / own, wide / broad)):
        return None
    size, more = np.array([own, broad]), np.array([long - own, wide - broad])

    def stretched(shape: Polygon) -> Polygon:
        return transform(shape, lambda at: at + more * np.clip(at / size, 0, 1))

    def carried(flaw: Flaw) -> Polygon:
        shape = flaw.outlines[1]
        if flaw.kind is FlawKind.WANE:
            return stretched(shape)
        off = more * np.array([shape.centroid.x, shape.centroid.y]) / size
        return affinity.translate(shape, *off)

    flaws = tuple(replace(flaw, outlines={1: carried(flaw)}) for flaw in other.flaws)
    return _measured(stretched(other.outline), flaws)


def _traced(face: FlatFace) -> Polygon | None:
    """Return the outline as traced, None where the little floor of a quick picture was too little.

    A whole photograph has more; an outline that comes near the picture's rim shows it.
    """
    picture = flat_face(*map(int, face.name.split("-"))).picture
    try:
        outline = trace_outline(picture, face.name).outline
    except ScannerError:
        return None
    rows, columns = (size * picture.mm_per_px - _RIM_MM for size in picture.pixels.shape[:2])
    inner = box(_RIM_MM, _RIM_MM, columns, rows)
    if not inner.covers(outline):
        print(f"{face.name}: traced to the rim of its quick picture, left out")
        return None
    return outline


def verdict(first: FaceReading, second: FaceReading) -> tuple[str, JoinedFaces | None]:
    """Return ``refused``, ``asked`` or ``taken``, and the faces laid over each other."""
    try:
        joined = join_faces(first, second, _THICK_MM, _NAMES)
    except BoardError:
        return "refused", None
    return ("asked" if joined.doubts else "taken"), joined


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("found", type=Path)
    parser.add_argument("--traced", action="store_true", help="outlines as traced")
    chosen = parser.parse_args()
    boards: dict = {}
    for face, flaws, wane in pickle.loads(chosen.found.read_bytes()):
        seed, side = face.name.split("-")
        outline = _traced(face) if chosen.traced else off_outline(face)
        if outline is not None:
            boards.setdefault(seed, {})[side] = (face, *reading_of(face, flaws, wane, outline))
    pairs = {seed: both for seed, both in boards.items() if len(both) == 2}
    own, right, asked_wrong, off = Counter(), 0, 0, []
    for seed, both in pairs.items():
        (face_1, one, move_1), (face_2, two, move_2) = both["1"], both["2"]
        said, joined = verdict(one, two)
        own[said] += 1
        if joined is None:
            print(f"{seed}: its own faces refused")
            continue
        faces, moves = (face_1, face_2), (move_1, move_2)
        is_right = joined.turned == true_turn(faces, moves)
        right += is_right
        asked_wrong += not is_right and said == "asked"
        if is_right:
            places = places_off_mm(faces, moves, two, joined)
            off.append((float(np.percentile(places, 95)), seed))
        else:
            print(f"{seed}: turned wrongly, {said}")
    total, settled = len(pairs), right + asked_wrong
    good = sum(value <= _NEAR_MM for value, _ in off)
    rows = [
        Figure("flip found", share_text(right, total), "0.99", right >= 0.99 * total),
        Figure("flip found, or asked", share_text(settled, total), "0.99", settled >= 0.99 * total),
        Figure("own faces", str(dict(own))),
        Figure(
            "registered within 1.5 mm (95 % of places)",
            f"{share_text(good, len(off))}, median {np.median([v for v, _ in off]):.2f} mm,"
            f" worst {sorted(off)[-3:]}",
            "1.5 mm",
            good == len(off),
        ),
    ]
    for claim, cut in (("other boards as they are", False), ("other boards, of one size", True)):
        said = Counter()
        for at, both in enumerate(pairs.values()):
            one, others = both["1"][1], list(pairs.values())
            for step in range(1, min(_OTHERS, len(others) - 1) + 1):
                two = others[(at + step) % len(others)]["2"][1]
                shown = _brought_to(two, one) if cut else two
                if shown is not None:
                    said[verdict(one, shown)[0]] += 1
        tried = sum(said.values())
        doubted = said["refused"] + said["asked"]
        for told, count in (("refused", said["refused"]), ("refused or asked", doubted)):
            share = f"{share_text(count, tried)} {dict(said)}"
            rows.append(Figure(f"{claim}: {told}", share, "0.98", count >= 0.98 * tried))
    for row in rows:
        print(f"{row.claim}: {row.figure} (bar {row.bar}, met {row.met})")


if __name__ == "__main__":
    main()
