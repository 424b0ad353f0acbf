"""Which board is likest: boards of rendered logs, each looked for among a lot of its species.

A lot is five logs of one species, four boards sawn from each; all lay in one stack. A board counts
as found where the likest of the 19 others is of its log. Faces are flat pictures without a camera;
to their colour comes the error that a photograph's has (``tests.bench.colours``).

``--fit`` prints how much boards of one log differ: lots 3000-3007 only.
"""

from __future__ import annotations

import argparse
import itertools
import math
import pickle
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from scanner.board.looks import ASPECTS, Aspect, Looks, unlikeness
from scanner.geometry.polygons import union_of
from scanner.lot.same_log import samenesses
from scanner.vision.flaws.sapwood import find_sapwood
from scanner.vision.flaws.surface import Surface, paint
from scanner.vision.grain import GrainField
from scanner.vision.looks.colour import PaperWhite, wood_colour
from scanner.vision.looks.of_board import FaceWood, log_of, with_colour, with_rings
from scanner.vision.looks.ring_fit import RingFit
from scanner.vision.photos.picture import FacePicture, WoodColour
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.log_boards import MM_PER_PX, FlatFace, flat_face, lot_of
from tests.bench.many import workers
from tests.render.logs.log import LogBoard, SharedLog

OUT = Path("out/bench/likeness")
# One sd of a photograph's error in L*, a*, b*: development boards, tests.bench.colours.
PHOTO_SD = (1.1, 0.9, 1.2)
# What paper of albedo 0.8 gives in these pictures, linear light.
_PAPER = 0.766
# Delta E: further apart are heart and sap.
_ONE_KIND = 10.0
WAYS: dict[str, tuple[Aspect, ...]] = {
    "looks, without the order of rings": ASPECTS,
    "all but figure": ("colour", "rings", "contrast"),
    "colour alone": ("colour",),
    "rings, their contrast and figure": ("rings", "contrast", "figure"),
    "ring spacing alone": ("rings",),
}


@dataclass(frozen=True)
class Row:
    """A board: its log, its looks, and the truth beside the fit of its rings."""

    lot: int
    log: int
    species: str
    looks: Looks
    fit: RingFit | None
    true_heart: int
    true_pith: float
    true_ring: float


def row_of(job: tuple[int, int]) -> Row:
    lot, number = job
    cv2.setNumThreads(1)
    board = lot_of(lot)[number]
    flat = {face: flat_face(board, face) for face in (1, 2)}
    faces = {
        n: FaceWood(one.pixels, MM_PER_PX, one.origin_mm, one.outline, one.flaws)
        for n, one in flat.items()
    }
    colours = {n: got for n, one in flat.items() if (got := _colours(one, board, n))}
    log = log_of(faces, board.thickness_mm)
    looks = with_rings(with_colour(Looks(), colours), log)
    heart = 2 if board.pith_z > board.thickness_mm / 2 else 1
    return Row(
        lot,
        board.own_log.seed,
        board.species,
        looks,
        log.fit if log else None,
        heart,
        _true_pith_mm(board),
        _true_ring_mm(board),
    )


def _colours(
    one: FlatFace, board: LogBoard, face: int
) -> tuple[WoodColour, WoodColour | None] | None:
    seen = np.ones(one.pixels.shape[:2], bool)
    picture = FacePicture(one.pixels, MM_PER_PX, one.origin_mm, 0.001, 0.5, seen)
    sapwood = find_sapwood(_surface(one))
    white = PaperWhite(np.zeros((1, 2)), np.full((1, 3), _PAPER))
    own = wood_colour(picture, one.outline, (*sapwood, *one.flaws), white)
    if own is None:
        return None
    rng = np.random.default_rng((board.seed, face, 811))
    error = rng.normal(0, PHOTO_SD)

    def seen_so(colour: WoodColour) -> WoodColour:
        light, red, yellow = (float(v) for v in np.add(colour.lab, error))
        return WoodColour((light, red, yellow), colour.spread)

    sap = wood_colour(picture, union_of(list(sapwood)), one.flaws, white) if sapwood else None
    return seen_so(own), seen_so(sap) if sap else None


def _surface(one: FlatFace) -> Surface:
    """Return what the sapwood's finder asks for, quickly; the rest is left empty."""
    wood = paint(one.outline, one.origin_mm, one.pixels.shape)
    lab = cv2.cvtColor(one.pixels.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    none = np.zeros((1, 1), np.float32)
    grain = GrainField(none, none)
    return Surface(one.origin_mm, wood, np.asarray(lab), none, none, none, 1.0, grain, 0.5)


def _true_pith_mm(board: LogBoard) -> float:
    """Return where the pith lies across at the board's middle: a log's pith sways."""
    across, _ = SharedLog(board).pith(np.array([board.length_mm / 2]))
    return float(across[0])


def _true_ring_mm(board: LogBoard) -> float:
    """Return the mean spacing of the rings that the board holds."""
    from tests.render.logs.wood import surfaces_of

    below = board.pith_z > board.thickness_mm / 2
    near = board.pith_z - board.thickness_mm if below else -board.pith_z
    inner = np.hypot(max(abs(board.pith_y) - board.width_mm / 2, 0), near)
    outer = np.hypot(abs(board.pith_y) + board.width_mm / 2, near + board.thickness_mm)
    radii = surfaces_of(board).wood._radii
    return float((outer - inner) / max(((radii > inner) & (radii < outer)).sum(), 1))


def found_share(rows: list[Row], by: tuple[Aspect, ...] = ASPECTS) -> tuple[int, int]:
    """Return of how many boards the likest other one is of the same log, and of how many."""
    hits = of = 0
    for row in rows:
        others = [other for other in rows if other.lot == row.lot and other is not row]
        apart = [unlikeness(row.looks, other.looks, by) for other in others]
        known = [(d, n) for n, d in enumerate(apart) if d is not None]
        of += 1
        hits += bool(known) and others[min(known)[1]].log == row.log
    return hits, of


def found_by_log(rows: list[Row]) -> tuple[int, int, int, int]:
    """Return how often the board that most likely is of the same log is, of how many boards.

    Then how often the program says that the rings match, and how often rightly.
    """
    hits = of = right = told = 0
    for row in rows:
        others = [other for other in rows if other.lot == row.lot and other is not row]
        found = samenesses(row.looks, [other.looks for other in others])
        odds = [-99.0 if one.log_odds is None else one.log_odds for one in found]
        of += 1
        hits += others[int(np.argmax(odds))].log == row.log
        said = [other for other, one in zip(others, found, strict=True) if one.by_rings]
        told += len(said)
        right += sum(other.log == row.log for other in said)
    return hits, of, right, told


def fit_rows(rows: list[Row]) -> dict[str, tuple[float, float]]:
    """Return one sd of each feature of a board within its log, and of logs within their lot.

    Colours that are further apart than any two of one kind of wood are heart against sap.
    """
    found: dict[str, tuple[float, float]] = {}
    for name in ("L", "a", "b", "ring", "contrast", "flat"):
        own, others = [], []
        for one, other in itertools.combinations(rows, 2):
            if one.lot != other.lot:
                continue
            off = _difference(one.looks, other.looks, name)
            if off is not None:
                (own if one.log == other.log else others).append(off * off / 2)
        within = float(np.mean(own))
        between = max(float(np.mean(others)) - within, 0.0)
        found[name] = (float(np.sqrt(within)), float(np.sqrt(between)))
    return found


def _difference(one: Looks, other: Looks, name: str) -> float | None:
    if name in ("L", "a", "b"):
        if one.lab is None or other.lab is None or math.dist(one.lab, other.lab) > _ONE_KIND:
            return None
        n = ("L", "a", "b").index(name)
        return one.lab[n] - other.lab[n]
    field = {"ring": "ring_mm", "contrast": "contrast", "flat": "flat_share"}[name]
    a, b = getattr(one, field), getattr(other, field)
    if a is None or b is None:
        return None
    return float(a - b) if name == "flat" else float(math.log(a / b))


def report(rows: list[Row]) -> list[Figure]:
    """Return the figures: found by all that is known, and by parts of it; rings and heart side."""
    hits, count, right, told = found_by_log(rows)
    claim = "the likest other board of the lot is of the same log"
    out = [
        Figure(
            f"{claim}: as the program sorts",
            share_text(hits, count),
            "at least 90 %",
            hits >= 0.9 * count,
        )
    ]
    out += [
        Figure(f"{claim}: {name}", share_text(*found_share(rows, by))) for name, by in WAYS.items()
    ]
    out.append(Figure("of one log where rings are said to match", share_text(right, told)))
    for species in sorted({row.species for row in rows}):
        mine = [row for row in rows if row.species == species]
        out.append(Figure(f"of {species}", share_text(*found_by_log(mine)[:2])))
    fitted = [row for row in rows if row.fit is not None]
    ring = [abs(np.log(row.fit.ring_mm / row.true_ring)) for row in fitted if row.fit]
    out.append(Figure("ring spacing off by, median and p80", f"{_shares(ring)}"))
    told = [row for row in fitted if row.looks.heart_face is not None]
    right = sum(row.looks.heart_face == row.true_heart for row in told)
    out.append(Figure("heart side guessed rightly, where guessed", share_text(right, len(told))))
    out.append(Figure("heart side guessed at all", share_text(len(told), len(rows))))
    pith = [abs(row.fit.pith_mm - row.true_pith) for row in fitted if row.fit]
    low, high = np.quantile(pith, [0.5, 0.8])
    out.append(Figure("pith's place across off by, median and p80", f"{low:.0f}, {high:.0f} mm"))
    return out


def _shares(logs: list[float]) -> str:
    low, high = np.exp(np.quantile(logs, [0.5, 0.8])) - 1
    return f"{100 * low:.0f} %, {100 * high:.0f} %"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="3000-3007")
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--fit", action="store_true")
    asked.add_argument("--keep", action="store_true", help="put the figures among those kept")
    options = asked.parse_args()
    first, last = (int(v) for v in options.seeds.split("-"))
    jobs = [(lot, n) for lot in range(first, last + 1) for n in range(len(lot_of(lot)))]
    if options.jobs == 1:
        rows = [row_of(job) for job in jobs]
    else:
        with workers(options.jobs) as pool:
            rows = list(pool.map(row_of, jobs, chunksize=2))
    OUT.mkdir(parents=True, exist_ok=True)
    (OUT / f"rows-{options.seeds}.pickle").write_bytes(pickle.dumps(rows))
    if options.fit:
        for name, (own, between) in fit_rows(rows).items():
            print(f"{name}: one log {own:.3f}, between logs {between:.3f}")
    figures = report(rows)
    for figure in figures:
        print(f"{figure.claim}: {figure.figure}")
    if options.keep:
        keep(
            Bench(
                "likeness",
                "Boards sorted by likeness",
                f"rendered logs, lots {options.seeds}: five logs of one species, four boards each",
                f"python -m tests.bench.likeness --seeds {options.seeds} --keep",
                tuple(figures),
            )
        )


if __name__ == "__main__":
    # By its full name, so that rows can be read back by others.
    from tests.bench.likeness import main as run

    run()
