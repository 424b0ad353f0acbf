"""The cutting jobs of the folder BOTHFACES_REAL names, as boards and parts of this project."""

from __future__ import annotations

import importlib.util
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shapely.geometry import Polygon

from scanner.board.board import Board, End, Face
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.measured import Measured
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import CutClass, Shop

if TYPE_CHECKING:
    from types import ModuleType

    from scanner.placement.layout import Layout

KINDS = {
    "knot_sound": (FlawKind.KNOT, True),
    "knot_loose": (FlawKind.KNOT, False),
    "check": (FlawKind.CHECK, None),
    "split": (FlawKind.SPLIT, None),
    "wane": (FlawKind.WANE, None),
    "hole": (FlawKind.HOLE, None),
    "stain": (FlawKind.STAIN, None),
    "pith": (FlawKind.PITH, None),
}


def cutting_folder() -> Path:
    """Return the folder with the jobs, whether it exists or not."""
    root = Path(__file__).parents[2]
    return (root / os.environ.get("BOTHFACES_REAL", "../shared")).resolve() / "cutting"


def module(name: str) -> ModuleType:
    """Return ``jobs``, ``validate`` ... of that folder."""
    key = f"cutting_{name}"
    if key not in sys.modules:
        folder = str(cutting_folder())
        if folder not in sys.path:
            sys.path.append(folder)
        spec = importlib.util.spec_from_file_location(key, cutting_folder() / f"{name}.py")
        assert spec is not None and spec.loader is not None
        sys.modules[key] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[key])
    return sys.modules[key]


@dataclass(frozen=True, slots=True)
class CuttingJob:
    """A job: the raw dictionary and what it is in this project's values."""

    raw: dict[str, Any]
    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop


def exact_shop(kerf_mm: float, cut_class: CutClass) -> Shop:
    """Return a shop without allowances: the jobs' sizes are rough sizes on true geometry."""
    return Shop(
        kerf_mm=kerf_mm,
        sawing_tolerance_mm=0.0,
        end_trim_seen_mm=0.0,
        end_trim_unseen_mm=0.0,
        length_allowance_mm=0.0,
        width_allowance_mm=0.0,
        cleanup_mm=0.0,
        cut_class=cut_class,
    )


def given_board(id: str, outline: Polygon, flaws: tuple[Flaw, ...] = ()) -> Board:
    """Return a board known without error."""
    x0, _, x1, _ = outline.bounds
    face = Face(outline=outline, looked_over=True)
    return Board(
        id=id,
        species="any",
        thickness=Measured(27.0, 0.0),
        length=Measured(x1 - x0, 0.0),
        widths=(),
        faces={1: face, 2: face},
        flaws=flaws,
        ends={"A": End(True, 0.0), "B": End(True, 0.0)},
        outline_u_mm=0.0,
    )


def cutting_job(size: str, regime: str, seed: int, cut_class: CutClass) -> CuttingJob:
    """Return one job."""
    return job_of(module("jobs").job(size, regime, seed), regime, cut_class)


def job_of(raw: dict[str, Any], regime: str, cut_class: CutClass) -> CuttingJob:
    """Return a raw job in this project's values."""
    boards = tuple(
        given_board(
            b["id"],
            Polygon(b["outline"]),
            tuple(_flaw(f"F{n}", f) for n, f in enumerate(b["flaws"], 1)),
        )
        for b in raw["boards"]
    )
    parts = tuple(
        Part(
            name=p["name"],
            quantity=p["quantity"],
            length_mm=float(p["length"]),
            width_mm=float(p["width"]),
            thickness_mm=20.0,
            faces=Faces(p["faces"]),
            priority=p["value"] if regime == "scarce" else 1.0,
        )
        for p in raw["parts"]
    )
    return CuttingJob(raw, boards, parts, exact_shop(raw["kerf"], cut_class))


def _flaw(id: str, raw: dict[str, Any]) -> Flaw:
    kind, sound = KINDS[raw["kind"]]
    shape = Polygon(raw["outline"])
    shape = shape if shape.is_valid else shape.buffer(0)
    through = raw["face"] == "through"
    return Flaw(
        id=id,
        kind=kind,
        outlines={1: shape, 2: shape} if through else {raw["face"]: shape},
        sound=sound,
        is_through=through,
        state=FlawState.CONFIRMED,
        u_mm=0.0,
    )


def outside_objections(job: CuttingJob, layout: Layout) -> list[str]:
    """Return what the jobs' own validator says of a layout."""
    placements = [
        {
            "board": p.board,
            "part": p.part,
            "x": p.x_mm,
            "y": p.y_mm,
            "length": p.length_mm,
            "width": p.width_mm,
            "show_face": p.show_face,
        }
        for p in layout.placements
    ]
    cut_class = "three-stage" if layout.cut_class == "three_stage" else "any"
    return list(module("validate").check(job.raw, {"placements": placements}, cut_class))
