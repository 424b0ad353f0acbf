"""How surely boards are found on the floor and how truly their faces are traced to the arris.

Rendered photographs are flattened by the true camera, over all the ground that they show, so that
nothing but seeing is measured: ``python -m tests.bench.outlines --seeds 5100-5129``. Each seed
gives face 1 beside the coded strip and face 2 beside a plain rule.
"""

import argparse
import itertools
import pickle
import time
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from scanner.board.form import crook_mm
from scanner.board.reading import edge_points_mm
from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, polygon_of
from scanner.vision.ground.locate import locate_board
from scanner.vision.outline.trace import TracedOutline, trace_outline
from scanner.vision.place import FIRST_END_MARGIN_MM
from tests.bench.figures import Bench, Figure, keep, mean_text, share_text
from tests.bench.many import in_order
from tests.bench.seeing import View, flattened, on_ground, read_upright, view_around
from tests.render.cache import cached_photo
from tests.render.scene import draw_board, draw_photo
from tests.render.truth import Truth

# What scanner/vision/rectify.py looks over: 6 m by 3 m round the rule.
_REACH_MM = (3000.0, 1500.0)
# A rough place that lies on less of the board than this is misplaced.
_LOCATED_IOU = 0.7
# Corners are worn: the true outline leaves the arris there.
_WORN_MM = 15.0
# Classes of told U, mm.
_TOLD_MM = (0.0, 0.7, 0.9, 1.1, 1.3, 1.6, 2.0, 3.0, 6.0, np.inf)
_NEAR_MM, _FAR_MM, _END_DEG, _CROOK_MM = 1.5, 6.0, 0.3, 1.0


@dataclass
class Row:
    """One face: what was refused, or how far off the outline lies."""

    name: str
    board: str
    refusal: str = ""
    rough_iou: float = 0.0
    iou: float = 0.0
    off_mm: np.ndarray = field(default_factory=lambda: np.zeros(0))
    ends_deg: tuple[float, ...] = ()
    crook_off_mm: float = 0.0
    u_mm: float = 0.0
    # (N, 2) of the long sides' points: how far off each lies, and its told U.
    told_mm: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))
    seconds: tuple[float, float] = (0.0, 0.0)

    def text(self) -> str:
        if self.refusal:
            return f"{self.name}: refused: {self.refusal}"
        ends = " ".join(f"{e:+.2f}" for e in self.ends_deg)
        return (
            f"{self.name}: rough {self.rough_iou:.2f}, IoU {self.iou:.4f}, near"
            f" {np.mean(self.off_mm <= _NEAR_MM):.3f}, worst {self.off_mm.max():.1f} mm,"
            f" ends {ends} deg, crook off {self.crook_off_mm:+.1f} mm, ± {self.u_mm:.2f} mm,"
            f" {self.seconds[0]:.1f} + {self.seconds[1]:.1f} s"
        )


def ground_of(pixels, truth: Truth) -> View:
    """Return the ground that the photo shows round the rule, as the scan cuts it."""
    long = truth.photo.strip_true_mm or 914.4
    whole = View(long / 2 - _REACH_MM[0], -_REACH_MM[1], 0.0, 2 * _REACH_MM[0], 2 * _REACH_MM[1])
    seen = flattened(pixels[:, :, :1].repeat(3, axis=2), truth, whole, 20.0).seen
    rows, columns = np.nonzero(seen)
    x0, y0, x1, y1 = columns.min() * 20, rows.min() * 20, columns.max() * 20, rows.max() * 20
    return View(whole.x + x0, whole.y + y0, 0.0, x1 - x0, y1 - y0)


def rule_area(truth: Truth) -> Polygon:
    """Return where strip or rule lie on the ground."""
    long = truth.photo.strip_true_mm or 914.4
    half = 30.0 if truth.photo.rule_kind == "strip" else 14.0
    return Polygon([(0, -half), (long, -half), (long, half), (0, half)])


def batten_area(truth: Truth) -> Polygon:
    """Return what counts as unseen when a face is traced."""
    return rule_area(truth).buffer(9.0 if truth.photo.rule_kind == "strip" else 6.0)


def measure(pixels, truth: Truth, name: str) -> tuple[Row, TracedOutline | None, object]:
    """Locate and trace twice, as the scan does."""
    row = Row(name, truth.board.id)
    view = ground_of(pixels, truth)
    true = on_ground(truth, truth.board.outline[str(truth.photo.face)])
    ground = flattened(pixels, truth, view, 2.0)
    beside = affinity.translate(rule_area(truth), -view.x, -view.y)
    start = time.process_time()
    try:
        place = locate_board(ground, beside, name)
        row.seconds = (time.process_time() - start, 0.0)
        rough = polygon_of(view.to_ground(np.asarray(place.outline.exterior.coords)))
        row.rough_iou = iou(rough, true)
        near = view_around(rough, place.angle_rad, FIRST_END_MARGIN_MM)
        for _ in range(2):
            picture = flattened(pixels, truth, near, 0.5, batten_area(truth))
            start = time.process_time()
            traced = trace_outline(picture, name)
            row.seconds = (row.seconds[0], row.seconds[1] + time.process_time() - start)
            here, near = near, _straightened(near, traced)
    except ScannerError as error:
        row.refusal = str(error)
        return row, None, None
    _compare(row, traced, here.polygon(true), truth)
    return row, traced, (picture, here)


def _straightened(view: View, traced: TracedOutline) -> View:
    whole = view.to_ground(np.asarray(traced.outline.exterior.coords))
    along = (traced.lower[-1] + traced.upper[-1]) - (traced.lower[0] + traced.upper[0])
    return view_around(polygon_of(whole), view.angle + float(np.arctan2(along[1], along[0])))


def _compare(row: Row, traced: TracedOutline, true: Polygon, truth: Truth) -> None:
    row.iou = iou(traced.outline, true)
    there = [Point(p) for p in traced.outline.segmentize(5).exterior.coords]
    back = [Point(p) for p in true.segmentize(5).exterior.coords]
    row.off_mm = np.array(
        [true.exterior.distance(p) for p in there]
        + [traced.outline.exterior.distance(p) for p in back]
    )
    lines = {"left": traced.left, "right": traced.right}
    row.ends_deg = tuple(
        float(np.degrees(_lean(line[1] - line[0]) - true_end_lean(true, side)))
        for side, line in lines.items()
    )
    crooks = [
        min(crook_mm(edge_points_mm(shape, side)) for side in ("upper", "lower"))
        for shape in (traced.outline, true)
    ]
    row.crook_off_mm = crooks[0] - crooks[1]
    row.u_mm = traced.u_mm
    row.told_mm = np.concatenate(
        [
            _told(traced, true, traced.upper, traced.upper_u_mm),
            _told(traced, true, traced.lower, traced.lower_u_mm),
        ]
    )


def _told(traced: TracedOutline, true: Polygon, edge, u_mm) -> np.ndarray:
    first, last = traced.left[:, 0].max() + _WORN_MM, traced.right[:, 0].min() - _WORN_MM
    inside = (edge[:, 0] > first) & (edge[:, 0] < last)
    off = [true.exterior.distance(Point(p)) for p in edge[inside]]
    return np.column_stack([off, u_mm[inside]])


def _lean(down) -> float:
    return float(np.arctan2(down[0], down[1]))


def true_end_lean(true: Polygon, side: str) -> float:
    """Return the lean of a true end, radians: x gained per y, corners left out."""
    x0, _, x1, _ = true.bounds
    inset = x0 + 60 if side == "left" else x1 - 60
    _, top, _, bottom = true.intersection(
        LineString([(inset, true.bounds[1] - 1), (inset, true.bounds[3] + 1)])
    ).bounds
    points = []
    for share in np.linspace(0.15, 0.85, 15):
        y = top + share * (bottom - top)
        cut = true.intersection(LineString([(x0 - 1, y), (x1 + 1, y)])).bounds
        points.append((y, cut[0] if side == "left" else cut[2]))
    y, x = np.array(points).T
    return float(np.arctan(np.polyfit(y, x, 1)[0]))


def share(flags) -> str:
    """Return a share with its 95 % interval from 2000 redrawn sets of boards."""
    per_board = np.asarray(flags, dtype=float)
    rng = np.random.default_rng(0)
    drawn = per_board[rng.integers(0, len(per_board), (2000, len(per_board)))].mean(axis=1)
    low, high = np.percentile(drawn, [2.5, 97.5])
    return f"{per_board.mean():.3f} ({low:.3f}-{high:.3f})"


def table(rows: list[Row]) -> str:
    """Return the figures over faces; intervals are drawn over boards."""
    boards = sorted({row.board for row in rows})

    def by_board(value) -> str:
        """A mean over each board's faces, then over boards."""
        return share([np.mean([value(r) for r in rows if r.board == b]) for b in boards])

    done = [r for r in rows if not r.refusal]
    found = [r for r in done if r.rough_iou >= _LOCATED_IOU]
    lines = [
        f"{len(rows)} faces of {len(boards)} boards (mean over boards, 95 % interval over boards)",
        f"board located            {by_board(lambda r: r in found)}",
        f"refused wrongly          {by_board(lambda r: bool(r.refusal))}",
        f"IoU                      {by_board(lambda r: r.iou)}",
        f"IoU at least 0.97        {by_board(lambda r: r.iou >= 0.97)}",
        f"points within 1.5 mm     {by_board(_near_share)}",
        f"faces with 95 % so       {by_board(lambda r: _near_share(r) >= 0.95)}",
        f"faces worst under 6 mm   {by_board(_never_far)}",
        f"ends within 0.3 degrees  {by_board(_ends_share)}",
        f"crook within 1 mm        {by_board(_crook_is_near)}",
        f"worst IoU {min(r.iou for r in rows):.4f}",
    ]
    if done:
        seconds = np.array([r.seconds for r in done]).mean(axis=0)
        lines.append("seconds: locate {:.2f}, trace twice {:.2f}".format(*seconds))
    return "\n".join(lines)


def by_told_u(rows: list[Row]) -> list[str]:
    """Return how many points of the long sides lie inside their U, by how large that U is."""
    off, u = np.concatenate([row.told_mm for row in rows]).T
    lines = [f"points inside their U {np.mean(off <= u):.3f} of {len(u)}"]
    for low, high in itertools.pairwise(_TOLD_MM):
        here = (u >= low) & (u < high)
        if here.any():
            of_u = off[here] / u[here]
            lines.append(
                f"   U {low:.1f} to {high:.1f} mm: {here.mean():6.1%} of points, inside"
                f" {np.mean(of_u <= 1):.3f}, 95 % within {np.quantile(off[here], 0.95):.2f} mm"
                f" = {np.quantile(of_u, 0.95):.2f} U"
            )
    return lines


def figures(rows: list[Row], beside: str) -> tuple[Figure, ...]:
    """Return what the bars of an outline come to; a face that was refused met none."""
    done = [row for row in rows if not row.refusal]

    def rate(claim: str, met: list[bool], bar: float) -> Figure:
        hits = sum(met)
        return Figure(
            f"{beside}: {claim}",
            share_text(hits, len(met)),
            f"{100 * bar:.0f} %",
            hits >= bar * len(met),
        )

    near = [_near_share(row) for row in done]
    return (
        Figure(f"{beside}: faces traced", share_text(len(done), len(rows))),
        rate("overlap (IoU) at least 0.97", [row.iou >= 0.97 for row in done], 0.95),
        Figure(
            f"{beside}: points of an outline within 1.5 mm, mean over faces",
            mean_text(near, 3),
            "0.95",
            float(np.mean(near)) >= 0.95,
        ),
        rate("no point off by 6 mm", [_never_far(row) for row in done], 1.0),
        rate(
            "an end within 0.3°", [abs(lean) <= _END_DEG for r in done for lean in r.ends_deg], 0.95
        ),
        rate("crook within 1 mm", [_crook_is_near(row) for row in done], 0.95),
    )


def _near_share(row: Row) -> float:
    return float(np.mean(row.off_mm <= _NEAR_MM)) if len(row.off_mm) else 0.0


def _never_far(row: Row) -> bool:
    return bool(len(row.off_mm)) and float(row.off_mm.max()) < _FAR_MM


def _ends_share(row: Row) -> float:
    return float(np.mean([abs(e) <= _END_DEG for e in row.ends_deg])) if row.ends_deg else 0.0


def _crook_is_near(row: Row) -> bool:
    return bool(len(row.off_mm)) and abs(row.crook_off_mm) <= _CROOK_MM


def pictures(seeds: range, folder: Path | None, size: str) -> list[tuple]:
    """Return what names each picture: a note kept in the folder, or (seed, face, rule, size)."""
    if folder is not None:
        return [(note,) for note in sorted(folder.glob("*.json"))]
    return [
        (seed, face, rule, size) for seed in seeds for face, rule in ((1, "strip"), (2, "plain"))
    ]


def measured(which: tuple) -> Row:
    """Read or render one picture, trace it, and hold it against its truth."""
    cv2.setNumThreads(1)
    if len(which) == 1:
        (note,) = which
        truth = Truth.from_json(note.read_text(encoding="utf-8"))
        pixels, name = read_upright(note.with_suffix(".jpg"), by_exif=False), note.stem
    else:
        seed, face, rule, size = which
        board = draw_board(seed)
        path, truth = cached_photo(board, draw_photo(seed, board, rule=rule, face=face, size=size))
        pixels, name = read_upright(path, by_exif=True), f"{seed}-{rule}"
    return measure(pixels, truth, name)[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="5100-5129", help="first-last")
    parser.add_argument("--folder", type=Path, help="pictures NAME.jpg with NAME.json, kept there")
    parser.add_argument("--size", default="large", choices=("full", "large", "medium"))
    parser.add_argument("--jobs", type=int, default=1, help="pictures side by side")
    parser.add_argument("--kept", type=Path, help="write the rows here, with every place's U")
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    cv2.setNumThreads(1)
    rows = []
    which = pictures(range(first, last + 1), chosen.folder, chosen.size)
    for row in in_order(measured, which, chosen.jobs):
        rows.append(row)
        print(row.text(), flush=True)
    for kind in ("strip", "plain"):
        mine = [row for row in rows if row.name.endswith(kind)]
        if mine:
            print(f"== beside the {kind} rule" if kind == "plain" else "== beside the strip")
            print(table(mine))
    if chosen.kept:
        chosen.kept.write_bytes(pickle.dumps(rows))
    print("== all")
    print(table(rows))
    print("\n".join(by_told_u(rows)))
    if chosen.folder is None:
        kept = [
            figure
            for kind, beside in (("strip", "beside the strip"), ("plain", "beside a plain rule"))
            for figure in figures([r for r in rows if r.name.endswith(kind)], beside)
        ]
        keep(
            Bench(
                name="outlines",
                title="Outlines against the truth",
                data=f"rendered photos of boards {chosen.seeds}, one a face, {chosen.size}",
                command=f"python -m tests.bench.outlines --seeds {chosen.seeds}",
                figures=tuple(kept),
            )
        )


if __name__ == "__main__":
    main()
