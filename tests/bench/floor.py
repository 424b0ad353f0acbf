"""The floor of the main job on rendered boards of seeds that no code was tuned on.

``make bench-floor`` renders 12 boards (cached), scans them through the errand that the command
calls, and holds the result against the truth: lengths, distances that were not taped, outlines,
knots, false candidates. The seeds belong to this file alone; once they
were looked at, the next twelve are taken.
"""

from __future__ import annotations

import argparse
import itertools
import json
import time
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

from scanner.app.scanning.scan_board import scan_board
from scanner.app.scanning.scan_request import ScanRequest
from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, largest_polygon, polygon_of
from scanner.vision.setup import RuleSize
from tests.bench.arris_places import off_mm
from tests.bench.figures import keep
from tests.bench.floor_figures import floor_figures
from tests.bench.many import workers
from tests.bench.true_size import is_found, share_to_true_size
from tests.render.cache import cached_photo
from tests.render.scene import (
    BoardSpec,
    PhoneSpec,
    PhotoSpec,
    RuleKind,
    draw_board,
    draw_phone,
    draw_photo,
    draw_rule,
)
from tests.render.truth import Truth

SEEDS = range(7515, 7527)
OUT = Path("out/bench/floor")
WAYS = ("strip", "two", "both", "taped", "plain")
# The tape's U at the bench: a careful person's 1 mm (1 sd 0.5 mm) over a board.
TAPE_SD_MM = 0.5
# Second photos of a face draw their cameras from seeds of their own.
_OTHER_SEED = 500_000
# Patches that carry grain are matched over this far; a result further off counts as this far.
_SEARCH_MM = 20.0
_PATCH_MM = 48.0
_LEAST_ALIKE = 0.8
# What stays the same over this along the board tells no place along it.
_ALONG_MM = 15.0
# The best place must stand out by so much from all that lie further off than this.
_CLEARLY, _ELSEWHERE_MM = 0.1, 3.0


@dataclass
class Row:
    """What one board gave; errors in mm, ``None`` where it was refused."""

    seed: int
    way: str
    refusal: str = ""
    length_mm: float = 0.0
    length_error: float | None = None
    length_u: float | None = None
    distance_errors: list[float] = field(default_factory=list)
    outline_iou: list[float] = field(default_factory=list)
    outline_u: float = 0.0
    # A face: the share of its long edges' places inside that U, and how far off 95 % of them lie.
    arris_off: list[list[float]] = field(default_factory=list)
    knots: int = 0
    knots_found: int = 0
    # The same after the face was drawn to the true size, as far as its own U goes.
    knots_laid: int = 0
    missed: list[float] = field(default_factory=list)
    false_candidates: list[int] = field(default_factory=list)
    kinds: dict[str, int] = field(default_factory=dict)
    turned_right: bool | None = None
    seconds: float = 0.0
    folder: str = ""


def photos_of(seed: int, way: str) -> dict[int, list[tuple[Path, Truth]]]:
    """Return the photographs of each face that a way takes, with their truths.

    ``way`` as in `scan_one`. A plain rule's ways show face 1 alone.
    """
    board = draw_board(seed)
    kind: RuleKind = "plain" if way in ("taped", "plain") else "strip"
    ruler, phone = draw_rule(seed, board, kind), draw_phone(seed)
    taken: dict[int, list[tuple[Path, Truth]]] = {}
    for face in (1,) if kind == "plain" else (1, 2):
        spec = draw_photo(seed, board, rule=kind, face=face, strip=ruler, phone=phone)
        specs = [spec]
        if way == "two":
            specs.append(from_the_other_side(seed, board, spec, phone))
        taken[face] = [cached_photo(board, one) for one in specs]
    return taken


def from_the_other_side(
    seed: int, board: BoardSpec, spec: PhotoSpec, phone: PhoneSpec
) -> PhotoSpec:
    """Return a second photo of a face, the board as it lies, taken from the other side of it."""
    middle = np.array([spec.board_x, spec.board_y])
    stood = spec.camera.centre[:2] - middle
    drawn = (
        draw_photo(again, board, face=spec.face, phone=phone, like=spec)
        for again in itertools.count(seed + _OTHER_SEED, _OTHER_SEED)
    )
    return next(one for one in drawn if stood @ (one.camera.centre[:2] - middle) < 0)


def scan_one(seed: int, way: str) -> Row:
    """Render and scan one board.

    ``way``: strip, two (two photos a face beside the strip), both (strip, and the board's length by
    tape), taped (plain rule and tape) or plain (rule alone).
    """
    cv2.setNumThreads(1)
    board = draw_board(seed)
    is_plain = way in ("taped", "plain")
    ruler = draw_rule(seed, board, "plain" if is_plain else "strip")
    taken = photos_of(seed, way)
    paths = {face: tuple(path for path, _ in photos) for face, photos in taken.items()}
    photo, truth = taken[1][0]
    tape = np.random.default_rng((seed, 99)).normal(0, TAPE_SD_MM)
    request = ScanRequest(
        id=f"S{seed}",
        photos_1=paths[1],
        photos_2=paths.get(2, ()),
        thickness=Measured(round(truth.board.thickness), 1.0),
        species=board.species,
        rule=RuleSize(ruler.length_mm, ruler.width_mm, ruler.thickness_mm) if is_plain else None,
        batten_mm=None if is_plain else ruler.batten_mm,
        strip_taped=Measured(ruler.taped_mm, 2.0) if not is_plain and ruler.taped_mm else None,
        taped=Measured(truth.board.length + tape, 2 * TAPE_SD_MM)
        if way in ("taped", "both")
        else None,
    )
    folder = OUT / f"{seed}-{way}"
    row = Row(seed, way, length_mm=truth.board.length, folder=str(folder))
    start = time.perf_counter()
    try:
        result = scan_board(request, folder)
    except ScannerError as problem:
        row.refusal = str(problem)
        return row
    row.seconds = time.perf_counter() - start
    faces = tuple(taken)
    _measure(row, result.board, truth, photo, folder, faces)
    if 2 in taken:
        row.turned_right = result.board.turned == taken[2][0][1].photo.turned
    _count_flaws(row, result.board, truth, faces)
    return row


def _measure(
    row: Row, board: Board, truth: Truth, photo: Path, folder: Path, faces: tuple[int, ...]
) -> None:
    row.length_error = board.length.value_mm - truth.board.length
    row.length_u = board.length.u_mm
    for face in faces:
        true = polygon_of(truth.board.outline[str(face)])
        row.outline_iou.append(iou(board.faces[face].outline, true))
        off = np.abs(off_mm(board.faces[face].outline, true))
        row.arris_off.append(
            [float((off <= board.outline_u_mm).mean()), float(np.quantile(off, 0.95))]
        )
    row.outline_u = board.outline_u_mm
    row.distance_errors = _distance_errors(board, truth, photo, folder)


def _distance_errors(board: Board, truth: Truth, photo: Path, folder: Path) -> list[float]:
    """Return errors of distances between places on face 1, found again in its flat picture.

    The photo is flattened once more by the true camera; patches of that picture are looked for in
    the scanned one. A pair of patches gives one distance; the whole length is left out (it may
    have been taped).
    """
    pixels = np.asarray(_upright(photo))
    length = truth.board.length
    outline = polygon_of(truth.board.outline["1"])
    scanned = cv2.imread(str(folder / (board.faces[1].picture or "")))
    grey = cv2.cvtColor(scanned, cv2.COLOR_BGR2GRAY)
    origin, scale = np.array(board.faces[1].picture_origin), board.faces[1].mm_per_px or 1.0
    true_places, found_places = [], []
    half = _PATCH_MM / 2
    for share in np.linspace(0.06, 0.94, 12):
        low, high = _span(outline, share * length)
        for across in (0.3, 0.7):
            middle = np.array([share * length, low + across * (high - low)])
            steps = np.arange(-half, half, scale)
            gx, gy = np.meshgrid(middle[0] + steps, middle[1] + steps)
            at = truth.photo_from_face(np.column_stack([gx.ravel(), gy.ravel()]))
            maps = at.astype(np.float32).reshape(*gx.shape, 2)
            patch = cv2.cvtColor(cv2.remap(pixels, maps, None, cv2.INTER_CUBIC), cv2.COLOR_RGB2GRAY)
            corner = (middle - half - origin) / scale
            reach = int(_SEARCH_MM / scale)
            x0, y0 = (round(float(c)) - reach for c in corner)
            window = grey[
                max(0, y0) : y0 + 2 * reach + len(steps), max(0, x0) : x0 + 2 * reach + len(steps)
            ]
            if window.shape[0] < len(steps) + 2 or window.shape[1] < len(steps) + 2:
                continue
            fine = patch_in(window, patch, scale)
            if fine is None:
                continue  # no grain to hold on to
            found = (fine + np.array([max(0, x0), max(0, y0)])) * scale + origin + half
            true_places.append(middle)
            found_places.append(found)
    errors = []
    for i in range(len(true_places)):
        for j in range(i):
            true = float(np.hypot(*(true_places[i] - true_places[j])))
            if true > 300:
                errors.append(float(np.hypot(*(found_places[i] - found_places[j]))) - true)
    return errors


def patch_in(window: np.ndarray, patch: np.ndarray, mm_per_px: float) -> np.ndarray | None:
    """Return where (x, y px) a grey patch lies in a window, or None where nothing tells it.

    Grain that runs straight along the board looks the same a centimetre further on: what stays the
    same along x is taken out first, or a patch slides along it by as much.
    """
    if cv2.minMaxLoc(cv2.matchTemplate(window, patch, cv2.TM_CCOEFF_NORMED))[1] < _LEAST_ALIKE:
        return None
    along = (2 * round(_ALONG_MM / 2 / mm_per_px) + 1, 1)
    bare = [
        one.astype(np.float32) - cv2.blur(one.astype(np.float32), along) for one in (window, patch)
    ]
    score = cv2.matchTemplate(*bare, cv2.TM_CCOEFF_NORMED)
    _, best, _, (px, py) = cv2.minMaxLoc(score)
    y, x = np.mgrid[: score.shape[0], : score.shape[1]]
    elsewhere = np.hypot(x - px, y - py) * mm_per_px > _ELSEWHERE_MM
    if best < score[elsewhere].max(initial=-1.0) + _CLEARLY:
        return None
    return np.array([px + _peak(score[py, :], px), py + _peak(score[:, px], py)])


def _peak(line: np.ndarray, at: int) -> float:
    if not 0 < at < len(line) - 1:
        return 0.0
    a, b, c = line[at - 1 : at + 2]
    bend = a - 2 * b + c
    return float(0.5 * (a - c) / bend) if bend < 0 else 0.0


def _span(outline: Polygon, x: float) -> tuple[float, float]:
    from scanner.board.reading import span_along_y_mm

    return span_along_y_mm(outline, x) or (0.0, 0.0)


def _upright(path: Path) -> Image.Image:
    from PIL import ImageOps

    with Image.open(path) as picture:
        return ImageOps.exif_transpose(picture).convert("RGB")


def _count_flaws(row: Row, board: Board, truth: Truth, faces: tuple[int, ...]) -> None:
    for face in faces:
        key = str(face)
        true = [
            (flaw.kind, [polygon_of(ring) for ring in flaw.outlines[key]])
            for flaw in truth.board.flaws
            if key in flaw.outlines
        ]
        found = [f for f in board.flaws if face in f.outlines]
        knotty = [f.outlines[face] for f in found if f.kind in (FlawKind.KNOT, FlawKind.HOLE)]
        share = share_to_true_size(board, polygon_of(truth.board.outline[key]), face)
        laid = [affinity.scale(shape, *share, origin=(0, 0)) for shape in knotty]
        for kind, pieces in true:
            shape = largest_polygon(unary_union(pieces))
            across = (4 * shape.area / np.pi) ** 0.5
            if kind != "knot" or across <= 10:
                continue
            row.knots += 1
            row.knots_laid += is_found(shape, laid)
            if is_found(shape, knotty):
                row.knots_found += 1
            else:
                row.missed.append(round(across, 1))
        for flaw in found:
            row.kinds[flaw.kind] = row.kinds.get(flaw.kind, 0) + 1
        wrong = false_ones(found, [piece for _, pieces in true for piece in pieces], face)
        for flaw in wrong:
            row.kinds[f"false {flaw.kind}"] = row.kinds.get(f"false {flaw.kind}", 0) + 1
        row.false_candidates.append(len(wrong))


def false_ones(found: list[Flaw], true: list[Polygon], face: int) -> list[Flaw]:
    """Return the candidates of a face that lie on no true flaw, wild grain left out.

    ``true`` holds every piece of every true flaw: wane along an arris is in pieces, and each is
    wane.
    """
    there = unary_union([piece.buffer(3) for piece in true])
    return [
        flaw
        for flaw in found
        if flaw.kind is not FlawKind.WILD_GRAIN
        and flaw.outlines[face].intersection(there).area < 0.1 * flaw.outlines[face].area
    ]


def report(rows: list[Row]) -> list[str]:
    """Return the table's lines."""
    lines = []
    for way in WAYS:
        mine = [row for row in rows if row.way == way]
        done = [row for row in mine if not row.refusal]
        if not mine:
            continue
        lines.append(f"== {way}: {len(done)} of {len(mine)} boards scanned")
        lines += [f"   seed {row.seed} refused: {row.refusal}" for row in mine if row.refusal]
        if not done:
            continue
        errors = np.array([abs(row.length_error or 0) for row in done])
        at_8ft = errors * np.array([2438.4 / row.length_mm for row in done])
        inside = np.mean([abs(r.length_error or 0) <= (r.length_u or 0) for r in done])
        lines.append(
            f"   length error mm: median {np.median(errors):.2f}, worst {errors.max():.2f},"
            f" worst scaled to 8 ft {at_8ft.max():.2f}; inside U {inside:.0%};"
            f" median U {np.median([r.length_u for r in done]):.2f}"
        )
        apart = np.abs(np.concatenate([row.distance_errors for row in done]))
        if len(apart):
            lines.append(
                f"   distances on the face mm ({len(apart)}): median {np.median(apart):.2f},"
                f" p95 {np.quantile(apart, 0.95):.2f}, worst {apart.max():.2f}"
            )
        ious = np.concatenate([row.outline_iou for row in done])
        lines.append(f"   outline IoU: mean {ious.mean():.4f}, worst {ious.min():.4f}")
        knots, found = sum(r.knots for r in done), sum(r.knots_found for r in done)
        false = np.concatenate([r.false_candidates for r in done])
        lines.append(
            f"   knots over 10 mm found: {found} of {knots} ({found / max(1, knots):.0%});"
            f" false candidates a face: mean {false.mean():.2f}, most {false.max()}"
        )
        laid = sum(r.knots_laid for r in done)
        lines.append(f"   knots over 10 mm found on faces drawn to their true size: {laid}")
        missed = sorted(size for row in done for size in row.missed)
        lines.append(f"   missed knots, mm: {missed}")
        if way in ("strip", "two"):
            right = [row.turned_right for row in done]
            lines.append(f"   turned the right way: {sum(map(bool, right))} of {len(right)}")
        lines.append(f"   seconds a board: median {np.median([r.seconds for r in done]):.1f}")
    return lines


def main() -> None:
    """Run the bench and print the table."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--seeds", default=f"{SEEDS.start}-{SEEDS.stop - 1}")
    arguments.add_argument("--ways", default="strip,taped,plain", help=f"of {', '.join(WAYS)}")
    arguments.add_argument("--jobs", type=int, default=2)
    options = arguments.parse_args()
    low, high = (int(s) for s in options.seeds.split("-"))
    jobs = [(seed, way) for seed in range(low, high + 1) for way in options.ways.split(",")]
    OUT.mkdir(parents=True, exist_ok=True)
    rows = []
    with workers(options.jobs) as pool:
        for row in pool.map(scan_one, *zip(*jobs, strict=True)):
            rows.append(row)
            error = (
                "refused" if row.refusal else f"{row.length_error:+.2f} mm (U {row.length_u:.1f})"
            )
            print(
                f"{row.seed} {row.way:6} {row.length_mm:7.1f} {error} IoU"
                f" {[round(v, 4) for v in row.outline_iou]} knots {row.knots_found}/{row.knots}"
                f" false {row.false_candidates} {row.kinds} {row.seconds:.0f} s {row.refusal}",
                flush=True,
            )
    (OUT / "rows.json").write_text(json.dumps([vars(row) for row in rows], indent=1, default=str))
    print("\n".join(report(rows)))
    for way in set(options.ways.split(",")) - {"both"}:
        mine = [row for row in rows if row.way == way]
        keep(floor_figures(way, mine, options.seeds))


if __name__ == "__main__":
    main()
