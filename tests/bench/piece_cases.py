"""Boards of one lot with their flat faces, and planed pieces cut out of them, with their truth."""

import os
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from scanner.board.board import Board, Face
from scanner.board.measured import Measured
from scanner.geometry.polygons import polygon_of
from scanner.vision.second_look.find_again import FacePrint, PlannedPiece
from scanner.vision.second_look.grain_print import grain_print
from tests.render.draw_boards import draw_board
from tests.render.flat import render_face, render_face_truth
from tests.render.second_look.planed import PieceCut, render_piece
from tests.render.specs import BoardSpec, spec_hash

FOLDER = Path(__file__).resolve().parents[2] / ".cache" / "pieces"
MM_PER_PX = 1.0
KERF_MM = 3.2
LOT = 4


@dataclass(frozen=True)
class Case:
    """A piece's picture (square on, no border) and where it truly lay."""

    seed: int
    number: int
    pixels: np.ndarray
    cut: PieceCut
    planned: PlannedPiece


@lru_cache(maxsize=64)
def spec_of(seed: int) -> BoardSpec:
    """Return a seed's board; chalk is left out, as a scan knows where it lies."""
    return replace(draw_board(seed), marks=())


@lru_cache(maxsize=64)
def board_of(seed: int) -> Board:
    spec = spec_of(seed)
    truth = render_face_truth(spec, 1, MM_PER_PX).board
    faces = {n: Face(outline=polygon_of(truth.outline[str(n)])) for n in (1, 2)}
    return Board(
        id=f"S{seed}",
        species=spec.species,
        thickness=Measured(spec.thickness_mm, 1.0),
        length=Measured(truth.length, 2.0),
        widths=(),
        faces=faces,
    )


@lru_cache(maxsize=24)
def prints_of(seed: int) -> tuple[FacePrint, FacePrint]:
    """Return the grain prints of both faces of a rough board, as a lot keeps them."""
    spec, board = spec_of(seed), board_of(seed)
    found = []
    for n in (1, 2):
        pixels, wood = _face(spec, n)
        extent = float(np.array(render_face_truth(spec, n, MM_PER_PX).extent_y))
        x, y = render_face_truth(spec, n, MM_PER_PX).origin_mm
        if n == 2:  # stored as seen through the board
            pixels, wood = np.ascontiguousarray(pixels[::-1]), np.ascontiguousarray(wood[::-1])
            y = extent - y - (len(pixels) - 1) * MM_PER_PX
        found.append(FacePrint(board, n, grain_print(pixels, wood, MM_PER_PX), (x, y)))
    return found[0], found[1]


def _face(spec: BoardSpec, number: int) -> tuple[np.ndarray, np.ndarray]:
    path = FOLDER / f"{spec_hash(spec)[:20]}-{number}.npz"
    if not path.exists():
        FOLDER.mkdir(parents=True, exist_ok=True)
        pixels, wood = render_face(spec, number, MM_PER_PX, supersample=2)
        draft = path.with_suffix(f".{os.getpid()}.npz")
        np.savez_compressed(draft, pixels=pixels, wood=wood)
        draft.replace(path)
    kept = np.load(path)
    return kept["pixels"], kept["wood"]


def planned_of(seed: int) -> tuple[PlannedPiece, ...]:
    """Return the pieces that a board is crosscut into: 300 to 900 mm, kerf between."""
    rng = np.random.default_rng((seed, 17))
    length, x, found = spec_of(seed).length_mm, 20.0, []
    while True:
        piece = float(rng.uniform(300, 900))
        if x + piece > length - 15:
            break
        found.append(PlannedPiece(f"S{seed}", f"S{seed}-{len(found) + 1}", x, x + piece))
        x += piece + KERF_MM
    return tuple(found)


def cases_of(seed: int, count: int) -> list[Case]:
    """Return planed pieces of a board: up to 25 mm trimmed off ends and off edges, either face."""
    planned = planned_of(seed)
    found = []
    for number in range(count if planned else 0):
        rng = np.random.default_rng((seed, number, 5))
        plan = planned[int(rng.integers(len(planned)))]
        face = int(rng.integers(1, 3))
        off = rng.uniform(0, 25, 2)  # along, across; in all
        share = rng.uniform(0, 1, 2)
        middle = (plan.x0_mm + plan.x1_mm) / 2
        outline = board_of(seed).faces[face].outline
        low, high = outline.intersection(_stripe(middle)).bounds[1::2]
        cut = PieceCut(
            face=face,
            x=plan.x0_mm + off[0] * share[0],
            y=low + off[1] * share[1],
            length=plan.x1_mm - plan.x0_mm - off[0],
            width=high - low - off[1],
            deep_mm=float(rng.uniform(0.5, 2.5)),
            is_turned=bool(rng.random() < 0.5),
        )
        pixels = render_piece(spec_of(seed), cut, MM_PER_PX, number)
        found.append(Case(seed, number, pixels, cut, plan))
    return found


def _stripe(x: float):
    from shapely.geometry import box

    return box(x - 1, -1000, x + 1, 1000)
