"""Strict scores of candidates against labels on one face; counts that add up over boards.

A knot is found where one candidate, used once, overlaps it by the IoU asked for (best pairs
first). Labels known by box only are compared by box. Lines (checks, resin, pith) are scored by
length along the board: a labelled column counts where a candidate of the kind passes within 3 mm
of it, a candidate's column is false where no label does. What is labelled ``other`` is left out.
"""

import itertools
from dataclasses import dataclass, field

import cv2
import numpy as np
from shapely.geometry import Polygon, box

from scanner.geometry.polygons import iou

KNOTS = ("knot_sound", "knot_loose", "hole")
FOUND_KNOTS = ("knot", "hole")
LINES = ("check", "resin", "pith")
# Kinds as the project says them.
LINE_OF = {"check": "check", "split": "check", "shake": "check", "pitch": "resin", "pith": "pith"}
IOUS = (0.3, 0.5)
BANDS_MM = (0.0, 8.0, 12.0, 20.0, 1000.0)
_STEP_MM = 0.5
_NEAR_MM = 3.0
_LEFT_OUT_SHARE = 0.3


@dataclass(frozen=True)
class Label:
    kind: str
    shape: Polygon
    is_box: bool = False

    @property
    def size_mm(self) -> float:
        return float(2 * np.sqrt(self.shape.area / np.pi))


@dataclass(frozen=True)
class Candidate:
    kind: str
    shape: Polygon
    sound: bool | None = None
    score: float = 1.0


@dataclass
class Counts:
    """Named sums; those of several faces or boards add up."""

    values: dict[str, float] = field(default_factory=dict)

    def add(self, name: str, value: float) -> None:
        self.values[name] = self.values.get(name, 0.0) + float(value)

    def get(self, name: str) -> float:
        return self.values.get(name, 0.0)

    def __add__(self, other: "Counts") -> "Counts":
        both = Counts(dict(self.values))
        for name, value in other.values.items():
            both.add(name, value)
        return both


def overlap(candidate: Candidate, label: Label) -> float:
    """Return the IoU; by box where the label is one."""
    if not label.is_box:
        return iou(candidate.shape, label.shape) if candidate.shape.intersects(label.shape) else 0.0
    return iou(box(*candidate.shape.bounds), label.shape)


def pairs(found: list[Candidate], labels: list[Label], least: float) -> list[tuple[int, int]]:
    """Return (candidate, label) pairs of at least this IoU, each used once, best pairs first."""
    table = [
        (overlap(c, label), i, j) for i, c in enumerate(found) for j, label in enumerate(labels)
    ]
    taken: list[tuple[int, int]] = []
    for value, i, j in sorted(table, reverse=True):
        if value < least:
            break
        if all(i != a and j != b for a, b in taken):
            taken.append((i, j))
    return taken


def score_knots(found: list[Candidate], labels: list[Label]) -> Counts:
    """Return the counts of any knot, at both IoUs, by size and by soundness."""
    counts = Counts()
    knots = [label for label in labels if label.kind in KNOTS]
    left_out = [label.shape for label in labels if label.kind == "other"]
    spots = [c for c in found if c.kind in FOUND_KNOTS and not c.shape.is_empty]
    counts.add("labels", len(knots))
    for least in IOUS:
        made = pairs(spots, knots, least)
        counts.add(f"hit {least}", len(made))
        unused = set(range(len(spots))) - {i for i, _ in made}
        false = [
            i
            for i in unused
            if not any(
                spots[i].shape.intersection(o).area > _LEFT_OUT_SHARE * spots[i].shape.area
                for o in left_out
            )
        ]
        counts.add(f"false {least}", len(false))
        if least == IOUS[0]:
            _by_size(counts, knots, {j for _, j in made})
            for i, j in made:
                _by_soundness(counts, spots[i], knots[j])
    return counts


def _by_size(counts: Counts, knots: list[Label], hit: set[int]) -> None:
    for j, knot in enumerate(knots):
        names = [
            f"{low:g}-{high:g}"
            for low, high in itertools.pairwise(BANDS_MM)
            if low <= knot.size_mm < high
        ]
        if knot.size_mm > 12.0:
            names.append("over 12")
        for name in names:
            counts.add(f"size {name} all", 1)
            counts.add(f"size {name} hit", j in hit)


def _by_soundness(counts: Counts, spot: Candidate, knot: Label) -> None:
    if knot.kind == "hole":
        return
    # Not known counts as not sound, as everywhere in the program.
    said_sound = spot.kind == "knot" and spot.sound is True
    counts.add(f"{knot.kind} all", 1)
    counts.add(f"{knot.kind} right", said_sound == (knot.kind == "knot_sound"))


def score_lines(
    found: list[Candidate], labels: list[Label], size_mm: tuple[float, float]
) -> Counts:
    """Return length labelled, covered and false, mm, by kind and for any of the kinds."""
    counts = Counts()
    shape = tuple(int(np.ceil(v / _STEP_MM)) + 1 for v in size_mm[::-1])
    left_out = _painted([x.shape for x in labels if x.kind == "other"], shape)
    for name, kinds in (*((k, (k,)) for k in LINES), ("any", LINES)):
        marks = [x.shape for x in labels if x.kind in kinds]
        lines = [c.shape for c in found if LINE_OF.get(c.kind) in kinds]
        near_found = _grown(_painted(lines, shape))
        near_marks = _grown(_painted(marks, shape) | left_out)
        for mark in marks:
            there = _painted([mark], shape)
            columns = there.any(axis=0)
            counts.add(f"{name} labelled", columns.sum() * _STEP_MM)
            counts.add(f"{name} covered", (there & near_found).any(axis=0).sum() * _STEP_MM)
        for line in lines:
            there = _painted([line], shape)
            columns = there.any(axis=0) & ~(there & near_marks).any(axis=0)
            counts.add(f"{name} false", columns.sum() * _STEP_MM)
    return counts


def _painted(shapes: list[Polygon], size: tuple[int, ...]) -> np.ndarray:
    canvas = np.zeros(size, np.uint8)
    for shape in shapes:
        if not shape.is_empty:
            ring = np.asarray(shape.exterior.coords) / _STEP_MM
            cv2.fillPoly(canvas, [np.round(ring * 16).astype(np.int32)], 1, shift=4)
    return canvas > 0


def _grown(where: np.ndarray) -> np.ndarray:
    reach = round(_NEAR_MM / _STEP_MM)
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    return cv2.dilate(where.astype(np.uint8), kernel) > 0


def ratios(counts: Counts, metres: float) -> dict[str, float]:
    """Return the figures that the bars are set in."""

    def share(part: float, whole: float) -> float:
        return part / whole if whole else float("nan")

    out: dict[str, float] = {}
    for least in IOUS:
        hit, false = counts.get(f"hit {least}"), counts.get(f"false {least}")
        precision, recall = share(hit, hit + false), share(hit, counts.get("labels"))
        out[f"any knot F1 at IoU {least}"] = share(2 * hit, hit + false + counts.get("labels"))
        out[f"precision at {least}"], out[f"recall at {least}"] = precision, recall
    for name in [f"{a:g}-{b:g}" for a, b in itertools.pairwise(BANDS_MM)]:
        out[f"recall {name} mm"] = share(
            counts.get(f"size {name} hit"), counts.get(f"size {name} all")
        )
    out["recall over 12 mm"] = share(counts.get("size over 12 hit"), counts.get("size over 12 all"))
    sound, loose = (
        share(counts.get(f"{kind} right"), counts.get(f"{kind} all"))
        for kind in ("knot_sound", "knot_loose")
    )
    out["sound against loose, balanced"] = (sound + loose) / 2
    for name in (*LINES, "any"):
        out[f"{name} covered"] = share(
            counts.get(f"{name} covered"), counts.get(f"{name} labelled")
        )
        out[f"{name} false mm/m"] = share(counts.get(f"{name} false"), metres)
    return out


def intervals(
    boards: dict[str, tuple[Counts, float]], draws: int = 1000, seed: int = 0
) -> dict[str, tuple[float, float, float]]:
    """Return each figure with its 95 % interval over boards drawn again with replacement."""
    names = sorted(boards)
    rng = np.random.default_rng(seed)

    def figures(chosen: list[str]) -> dict[str, float]:
        total, metres = Counts(), 0.0
        for name in chosen:
            total, metres = total + boards[name][0], metres + boards[name][1]
        return ratios(total, metres)

    whole = figures(names)
    again = [figures(list(rng.choice(names, len(names)))) for _ in range(draws)]
    out = {}
    for name, value in whole.items():
        values = np.array([one[name] for one in again])
        values = values[np.isfinite(values)]
        low, high = np.percentile(values, [2.5, 97.5]) if len(values) else (np.nan, np.nan)
        out[name] = (value, float(low), float(high))
    return out
