"""Ends and edges read off rendered photographs with card or strip in them, against the solid.

``python -m tests.bench.ends_edges --seeds 8600-8640`` (held out). Corners are tapped 3 px
off. Ring direction is meant over 16 mm across and half the thickness, at five places of each end.
"""

import argparse
import json
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from scanner.board.edge_facts import EdgeFacts
from scanner.board.ring_facts import RIFT_DEG, RIFT_TOLERANCE_DEG, SURE_DEG, RingFacts
from scanner.errors import ScannerError
from scanner.vision.photos.photo import read_photo
from scanner.vision.second_look.edge import MARGIN_MM, edge_facts
from scanner.vision.second_look.ends import ring_facts
from scanner.vision.second_look.plane import flat_side
from tests.bench.figures import Bench, Figure, keep, share_interval, share_text
from tests.render.draw_boards import draw_board
from tests.render.second_look.ends import (
    end_points,
    line_slope,
    render_edge,
    render_end,
    ring_normals,
)
from tests.render.second_look.side_photo import side_photo
from tests.render.specs import BoardSpec

OUT = Path("out/bench/ends_edges")
TAP_PX = 3.0
EDGE_MM = 600.0
EDGE_PX_MM = 0.3
END_PX_MM = 0.14  # a phone of 12 megapixels half a metre off sees ends finer than this


@dataclass
class EndRow:
    """One end: errors in degrees at five places, and what was said of its heart side."""

    name: str
    refusal: str = ""
    errors_deg: list[float] = field(default_factory=list)
    u_deg: list[float] = field(default_factory=list)
    true_deg: list[float] = field(default_factory=list)
    said_deg: list[float] = field(default_factory=list)
    heart_right: bool | None = None
    width_off_mm: float = 0.0
    thickness_off_mm: float = 0.0
    doubts: tuple[str, ...] = ()


@dataclass
class EdgeRow:
    """One edge: errors at five stations, mm, and of the slope, degrees."""

    name: str
    refusal: str = ""
    off_mm: list[float] = field(default_factory=list)
    u_mm: list[float] = field(default_factory=list)
    slope_off_deg: float | None = None
    slope_u_deg: float | None = None
    true_slope_deg: float = 0.0


def tapped(corners: np.ndarray, rng: np.random.Generator):
    """Return the corners as a person taps them."""
    off = rng.uniform(-TAP_PX, TAP_PX, corners.shape)
    return tuple((float(x), float(y)) for x, y in corners + off)


def true_angles(board: BoardSpec, end: str, trim: float, ys: list[float]) -> np.ndarray:
    """Return the rings' direction of growth (N, 2) round places of an end, y and z."""
    x, low, _ = end_points(board, end, trim)
    found = []
    dy, dz = (g.ravel() for g in np.meshgrid(np.linspace(-8, 8, 9), np.linspace(-6, 6, 5)))
    for y in ys:
        grown = ring_normals(board, x, low + y + dy, board.thickness_mm / 2 + dz, 0.7)
        mean = np.linalg.eigh(grown.T @ grown)[1][:, 1]
        found.append(mean * np.sign(mean @ grown.mean(axis=0) + 1e-12))
    return np.array(found)


def read_one_end(seed: int, end: str) -> EndRow:
    board = draw_board(seed)
    rng = np.random.default_rng((seed, ord(end), 31))
    trim = float(rng.uniform(12, 60))
    light, wood = render_end(board, end, trim, END_PX_MM, supersample=1)
    path = OUT / f"end-{seed}{end}.jpg"
    corners = side_photo(light, wood, END_PX_MM, 2 * seed + (end == "B"), path)
    row = EndRow(f"{seed}{end}")
    try:
        side = flat_side(read_photo(path), tapped(corners, rng), mm_per_px=0.15)
        read = ring_facts(side, "A" if end == "A" else "B")
    except ScannerError as problem:
        row.refusal = str(problem)
        return row
    if read is None:
        row.refusal = "no rings"
        return row
    _judge_end(row, read[0], board, end, trim)
    return row


def _judge_end(row: EndRow, facts: RingFacts, board: BoardSpec, end: str, trim: float) -> None:
    _, low, high = end_points(board, end, trim)
    true = true_angles(board, end, trim, [s.y_mm for s in facts.stations])
    for station, growth in zip(facts.stations, true, strict=True):
        lean = {"+": 1, "-": -1, "": 1}[station.leans]
        a = np.radians(station.angle_deg)
        said = np.array([lean * np.sin(a), np.cos(a)])
        sine = abs(said[0] * growth[1] - said[1] * growth[0])
        row.errors_deg.append(float(np.degrees(np.arcsin(min(sine, 1)))))
        row.u_deg.append(station.u_deg)
        row.said_deg.append(station.angle_deg)
        row.true_deg.append(float(np.degrees(np.arctan2(abs(growth[0]), abs(growth[1])))))
    if facts.heart_face is not None:
        row.heart_right = facts.heart_face == (2 if board.pith_z > board.thickness_mm / 2 else 1)
    row.width_off_mm = facts.width_mm - (high - low)
    row.thickness_off_mm = facts.thickness_mm - board.thickness_mm
    row.doubts = facts.doubts


def read_one_edge(seed: int, side: int) -> EdgeRow:
    board = draw_board(seed)
    rng = np.random.default_rng((seed, side + 5, 37))
    start = float(rng.uniform(60, board.length_mm - EDGE_MM - 60))
    light, wood = render_edge(board, side, start, start + EDGE_MM, EDGE_PX_MM)
    path = OUT / f"edge-{seed}{'+' if side > 0 else '-'}.jpg"
    corners = side_photo(light, wood, EDGE_PX_MM, 2 * seed + (side > 0), path, with_strip=True)
    row = EdgeRow(f"{seed}{'+' if side > 0 else '-'}")
    try:
        taps = tapped(corners, rng)
        shown = flat_side(read_photo(path), taps, mm_per_px=0.25, margin_mm=MARGIN_MM)
    except ScannerError as problem:
        row.refusal = str(problem)
        return row
    _judge_edge(row, edge_facts(shown), board, side, start)
    return row


def _judge_edge(row: EdgeRow, facts: EdgeFacts, board: BoardSpec, side: int, start: float) -> None:
    row.off_mm = [s.thickness.value_mm - board.thickness_mm for s in facts.stations]
    row.u_mm = [s.thickness.u_mm for s in facts.stations]
    slope = line_slope(board, side, np.linspace(start + 40, start + EDGE_MM - 40, 15))
    row.true_slope_deg = float(np.degrees(np.arctan(slope))) * side
    if facts.slope_deg is not None:
        row.slope_off_deg = facts.slope_deg - row.true_slope_deg
        row.slope_u_deg = facts.slope_u_deg


def of_all(claim: str, hits: int, of: int, bar: float = 0.95) -> Figure:
    """Return a share held against its bar, and whether a miss is within its own interval."""
    within = share_interval(hits, of)[1] >= bar
    return Figure(claim, share_text(hits, of), f"{bar:.0%}".replace("%", " %"),
                  hits >= bar * of, by_chance=within)  # fmt: skip


def end_figures(rows: list[EndRow]) -> tuple[Figure, ...]:
    read = [row for row in rows if not row.refusal]
    errors = np.concatenate([row.errors_deg for row in read])
    inside = int(np.sum(errors <= np.concatenate([row.u_deg for row in read])))
    near = int((errors <= 5).sum())
    told = np.concatenate([row.u_deg for row in read]) <= SURE_DEG
    hearts = [row.heart_right for row in read if row.heart_right is not None]
    said, true = (np.concatenate([getattr(r, n) for r in read]) for n in ("said_deg", "true_deg"))
    rift = np.abs(said - RIFT_DEG) + np.concatenate([r.u_deg for r in read]) <= RIFT_TOLERANCE_DEG
    held = int((np.abs(true[rift] - RIFT_DEG) <= RIFT_TOLERANCE_DEG).sum())
    return (
        Figure("ends read", share_text(len(read), len(rows))),
        of_all("ring direction within 5 degrees, all places", near, len(errors)),
        of_all("the same, places told", int((errors[told] <= 5).sum()), int(told.sum())),
        Figure("places said to be unsure", share_text(int((~told).sum()), len(errors))),
        Figure("ring direction off", f"median {np.median(errors):.1f}, p95"
               f" {np.quantile(errors, 0.95):.1f} degrees"),
        of_all("ring direction inside its U", inside, len(errors)),
        Figure("heart side right where said", share_text(sum(hearts), len(hearts)), "all",
               all(hearts)),
        Figure("heart side left open", share_text(len(read) - len(hearts), len(read))),
        Figure("places called rift that are rift", share_text(held, int(rift.sum()))),
    )  # fmt: skip


def edge_figures(rows: list[EdgeRow]) -> tuple[Figure, ...]:
    read = [row for row in rows if not row.refusal]
    off = np.abs(np.concatenate([row.off_mm for row in read]))
    inside = int(np.sum(off <= np.concatenate([row.u_mm for row in read])))
    slopes = [(abs(r.slope_off_deg), r.slope_u_deg) for r in read if r.slope_off_deg is not None]
    turned = np.array([s for s, _ in slopes] or [np.nan])
    held = sum(s <= (u or 0) for s, u in slopes)
    return (
        Figure("thickness stations read", share_text(len(off), 5 * len(rows))),
        Figure("thickness off",
               f"median {np.median(off):.2f}, p95 {np.quantile(off, 0.95):.2f} mm"),
        of_all("thickness inside its U", inside, len(off)),
        Figure("slope through the board read", share_text(len(slopes), len(rows))),
        Figure("slope off", f"median {np.median(turned):.2f}, p95"
               f" {np.quantile(turned, 0.95):.2f} degrees"),
        of_all("slope inside its U", held, len(slopes)),
    )  # fmt: skip


def main() -> None:
    """Run both benches and keep their figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8600-8640", help="first-last")
    parser.add_argument("--what", default="ends,edges")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    first, last = (int(v) for v in chosen.seeds.split("-"))
    command = f"python -m tests.bench.ends_edges --seeds {chosen.seeds}"
    data = f"rendered boards {chosen.seeds}, photographs with a board card (ends) or strip (edges)"
    ends, edges = [], []
    for seed in range(first, last + 1):
        if "ends" in chosen.what:
            for end in "AB":
                ends.append(read_one_end(seed, end))
                row = ends[-1]
                print(row.name, np.round(row.errors_deg, 1), "U", np.round(row.u_deg, 1),
                      row.heart_right, f"{row.width_off_mm:+.1f} {row.thickness_off_mm:+.2f} mm",
                      row.refusal, row.doubts, flush=True)  # fmt: skip
        if "edges" in chosen.what:
            wane = draw_board(seed).wane
            # A thickness is read off the edge that has no wane.
            edges.append(read_one_edge(seed, -wane.side if wane else (1 if seed % 2 else -1)))
            row = edges[-1]
            print(row.name, "thickness", np.round(row.off_mm, 2), "U", np.round(row.u_mm, 2),
                  "slope", row.slope_off_deg, "U", row.slope_u_deg, "true",
                  round(row.true_slope_deg, 2), row.refusal, flush=True)  # fmt: skip
    OUT.mkdir(parents=True, exist_ok=True)
    for name, title, rows, figures in (
        ("ends", "Rings read off an end", ends, end_figures),
        ("edges", "Thickness and slope read off an edge", edges, edge_figures),
    ):
        if rows:
            (OUT / f"{name}-{chosen.seeds}.json").write_text(
                json.dumps([vars(r) for r in rows], default=float)
            )
            found = figures(rows)
            for figure in found:
                print(f"{figure.claim}: {figure.figure} {figure.bar}")
            keep(Bench(name=name, title=title, data=data, command=command, figures=found))


if __name__ == "__main__":
    main()
