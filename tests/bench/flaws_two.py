"""Flaws found on boards of the second renderer, scored as `tests.bench.flaws` scores the first's.

``python -m tests.bench.flaws_two --seeds 100-119``: flat faces without a camera (the true outline,
up to 1 mm off), then whole photographs (flattened by the true camera; the outline is the traced
one). Nothing may be tuned on these boards: the figures tell how far what is reported on the first
renderer carries to wood of another making.
"""

import argparse
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.geometry.polygons import polygon_of, union_of
from scanner.vision.flaws import find_flaws
from scanner.vision.photos.picture import FacePicture
from tests.bench.figures import Bench, Figure, keep, mean_text, share_text
from tests.bench.flaws import Tally, off_outline, wrong_ones
from tests.bench.many import in_order
from tests.bench.seeing import COVERED, CRACKS, SPOTS, covered, is_same, see
from tests.bench.wood_bars import BAR_CRACKS, FINE_MM_PER_PX, mm_per_px_at, over_boards
from tests.render_two.flat import FlatView, flat_view
from tests.render_two.kept import kept_photo
from tests.render_two.photo import Photo

# A crack this much darker than the wood beside it can be seen by a person who looks for it.
_PLAIN_DARK = 0.10
_KNOT_MM, _CRACK_MM, _OPENS_MM, _WANE_MM2 = 6.0, 20.0, 0.3, 100.0


@dataclass(frozen=True)
class TrueFace:
    """A face with its truth in the picture's mm, as `tests.bench.flaws` takes it."""

    name: str
    picture: FacePicture
    outline: Polygon
    flaws: tuple
    species: str
    # Of the photograph at each flaw, or of the flat picture.
    mm_per_px: tuple[float, ...]


@dataclass
class Score:
    """Hits by claim, and by board for the intervals over boards."""

    hits: dict = field(default_factory=lambda: defaultdict(lambda: defaultdict(lambda: [0, 0])))
    false: dict = field(default_factory=lambda: defaultdict(list))
    kinds: dict = field(default_factory=lambda: defaultdict(int))
    ious: list = field(default_factory=list)
    refused: list = field(default_factory=list)
    outlines: list = field(default_factory=list)
    tally: Tally = field(default_factory=Tally)
    notes: list = field(default_factory=list)

    def mark(self, claim: str, board: str, hit: bool) -> None:
        pair = self.hits[claim][board]
        pair[0] += bool(hit)
        pair[1] += 1

    def add(self, face: TrueFace, flaws, wane=None) -> str:
        """Count a face; ``wane`` is what was traced, None where the truth was given."""
        board = face.name.split("-")[0]
        before = {k: len(v) for k, v in self.tally.ious.items()}
        self.tally.add(face, flaws)
        for kind in ("knot", "hole", "bark_pocket"):
            self.ious += self.tally.ious[kind][before.get(kind, 0) :]
        self.false[board].append(self.tally.per_face[face.name])
        missed = [
            note
            for (kind, flaw, shape), fine_mm in zip(face.flaws, face.mm_per_px, strict=True)
            if (note := self._found(board, face, kind, flaw, shape, fine_mm, flaws, wane))
        ]
        wrong = wrong_ones(face, flaws)
        for flaw in wrong:
            self.kinds[flaw.kind.value] += 1
        self.notes.append((face.name, missed, wrong))
        said = ", ".join(f"{m[0]} {m[1]} {m[2]}" for m in missed)
        false = ", ".join(f"{f.kind.value} {f.score:.2f}" for f in wrong)
        return f"{face.name} {face.species}: missed [{said}], false [{false}]"

    def _found(self, board, face, kind, flaw, shape, fine_mm, flaws, wane):
        """Count one true flaw; return what to say of it where it was missed."""
        if kind == "wane":
            if wane is None or shape.area <= _WANE_MM2:
                return None
            hit = union_of(wane).intersection(shape).area > 0.3 * shape.area
            self.mark("wane", board, hit)
            return None if hit else (kind, flaw.look, f"{shape.area:.0f} mm2", shape)
        whole = shape.intersection(face.outline)
        if whole.area <= 1:
            return None
        if kind in CRACKS:
            long = whole.bounds[2] - whole.bounds[0]
            if long <= _CRACK_MM:
                return None
            near = [f.outlines[1] for f in flaws if f.kind.value in CRACKS]
            hit = covered(whole, near) >= COVERED
            wide = flaw.opening >= _OPENS_MM
            self.mark("cracks over 20 mm", board, hit)
            if wide:
                self.mark("cracks over 20 mm that open 0.3 mm", board, hit)
            if wide and kind != "shake" and fine_mm <= FINE_MM_PER_PX:
                self.mark(BAR_CRACKS, board, hit)
            if flaw.usual >= _OPENS_MM:
                self.mark("cracks over 20 mm, 0.3 mm wide over half their length", board, hit)
            if darker_share(face.picture, whole) >= _PLAIN_DARK:
                self.mark("cracks over 20 mm a tenth darker than the wood beside", board, hit)
            return None if hit else (kind, flaw.look, f"{long:.0f} x {flaw.opening:.1f} mm", whole)
        if kind not in SPOTS:
            return None
        size = float(2 * np.sqrt(whole.area / np.pi))
        hit = any(is_same(f.outlines[1], whole) for f in flaws if f.kind.value in SPOTS)
        if kind == "knot" and size > _KNOT_MM:
            self.mark("knots over 6 mm", board, hit)
            if size > 10:
                self.mark("knots over 10 mm", board, hit)
        elif kind == "hole" and size > 3:
            self.mark("holes over 3 mm", board, hit)
        elif kind == "bark_pocket":
            self.mark("bark pockets", board, hit)
        else:
            return None
        return None if hit else (kind, flaw.look, f"{size:.1f} mm", whole)

    def figures(self) -> tuple[Figure, ...]:
        bars = {
            "knots over 6 mm": 0.97,
            BAR_CRACKS: 0.90,
            "wane": 0.97,
            "holes over 3 mm": 0.90,
        }
        rows = []
        for claim in sorted(self.hits):
            by_board = list(self.hits[claim].values())
            hits, total = np.sum(by_board, axis=0)
            bar = bars.get(claim)
            rows.append(
                Figure(
                    f"{claim} found",
                    f"{share_text(int(hits), int(total))}; over boards {over_boards(by_board)}",
                    f"{100 * bar:.0f} %" if bar else "",
                    bool(hits >= bar * total) if bar else None,
                )
            )
        per_board = [float(np.mean(v)) for v in self.false.values()]
        if per_board:
            most = max(max(v) for v in self.false.values())
            faces = np.concatenate(list(self.false.values()))
            told = f"{mean_text(per_board)}, most {most} {dict(self.kinds)}"
            rows.append(
                Figure("false candidates a face", told, "at most 1", bool(faces.mean() <= 1))
            )
        if self.ious:
            middle = float(np.median(self.ious))
            told = f"{middle:.2f} of {len(self.ious)} found"
            rows.append(Figure("spots, median overlap (IoU)", told, "0.75", middle >= 0.75))
        return tuple(rows)


def darker_share(picture: FacePicture, crack: Polygon) -> float:
    """Return how much darker a crack is in the picture than the wood 1 to 3 mm beside it, 0-1."""
    mm = picture.mm_per_px
    x0, y0, x1, y1 = (int(v / mm) for v in crack.bounds)
    top, left = max(y0 - 12, 0), max(x0, 0)
    grey = cv2.cvtColor(picture.pixels[top : y1 + 13, left : x1 + 1], cv2.COLOR_RGB2GRAY)
    ring = np.round((np.asarray(crack.exterior.coords) / mm - [left, top]) * 16).astype(np.int32)
    inner = np.zeros(grey.shape, np.uint8)
    cv2.fillPoly(inner, [ring], 1, cv2.LINE_8, 4)
    near = cv2.dilate(inner, np.ones((5, 1), np.uint8))
    belt = cv2.dilate(inner, np.ones((13, 1), np.uint8)) - near
    if not inner.any() or not belt.any():
        return 0.0
    return float(1 - grey[inner > 0].mean() / max(float(grey[belt > 0].mean()), 1.0))


def flat_face(view: FlatView) -> TrueFace:
    """Return a flat view as a face with its truth."""
    side = str(view.face)
    picture = FacePicture(
        view.pixels, view.mm_per_px, (0.0, 0.0), 0.0006, 0.5, np.ones(view.pixels.shape[:2], bool)
    )
    flaws = tuple(
        (flaw.kind, flaw, polygon_of(view.from_board(ring)))
        for flaw in view.truth.flaws
        for ring in flaw.outlines.get(side, [])
    )
    outline = polygon_of(view.from_board(view.truth.outline[side]))
    name = f"{view.plank.seed}-{side}"
    fine = (view.mm_per_px,) * len(flaws)
    return TrueFace(name, picture, outline, flaws, view.plank.species.name, fine)


def photo_face(seed: int, face: int, photo: Photo):
    """Return a photograph's flat face with its truth, what was found on it and what was seen."""
    name = f"{seed}-{face}"
    seen = see(photo.pixels, photo, name)
    if seen.refused:
        return None, seen
    flaws, truth = tuple(seen.true_flaws), photo.photo

    def to_photo(points):
        return truth.project(truth.reference_from_board(points))

    fine = tuple(
        mm_per_px_at(to_photo, np.mean(flaw.outlines[str(face)][0], axis=0)) for _, flaw, _ in flaws
    )
    return TrueFace(name, seen.picture, seen.outline, flaws, photo.board.species, fine), seen


def save_case(folder: Path, face: TrueFace, missed, wrong) -> None:
    """Write pictures of what was missed (red) and what was false (yellow), to be looked at."""
    folder.mkdir(parents=True, exist_ok=True)
    mm = face.picture.mm_per_px
    for shape, colour, label in [
        *((m[3], (0, 0, 255), f"missed-{m[0]}") for m in missed),
        *((f.outlines[1], (0, 220, 255), f"false-{f.kind.value}") for f in wrong),
    ]:
        picture = face.picture.pixels[..., ::-1].copy()
        x0, y0, x1, y1 = (int(v / mm) for v in shape.bounds)
        clean = picture.copy()
        ring = np.round(np.asarray(shape.exterior.coords) / mm * 16).astype(np.int32)
        cv2.polylines(picture, [ring], True, colour, 1, cv2.LINE_AA, 4)
        rows = slice(max(y0 - 60, 0), y1 + 60)
        columns = slice(max(x0 - 120, 0), min(x1 + 120, x0 + 700))
        both = np.concatenate([clean[rows, columns], picture[rows, columns]])
        name = f"{label}-{face.species}-{face.name}-{x0}-{y0}.png"
        cv2.imwrite(str(folder / name), both)


def _flat_found(which: tuple[int, int]):
    cv2.setNumThreads(1)
    face = flat_face(flat_view(*which))
    wane = tuple(shape for kind, _, shape in face.flaws if kind == "wane")
    return face, find_flaws(face.picture, off_outline(face), wane)


def _photo_found(which: tuple[int, int]):
    cv2.setNumThreads(1)
    return photo_face(*which, kept_photo(*which))


def flats(seeds: range, pictures: Path | None, jobs: int) -> Score:
    score = Score()
    both = [(seed, side) for seed in seeds for side in (1, 2)]
    for face, found in in_order(_flat_found, both, jobs):
        print(score.add(face, found), flush=True)
        if pictures:
            save_case(pictures / "flat", face, *score.notes[-1][1:])
    return score


def photos(seeds: range, pictures: Path | None, jobs: int) -> Score:
    score = Score()
    both = [(seed, side) for seed in seeds for side in (1, 2)]
    for face, seen in in_order(_photo_found, both, jobs):
        if face is None:
            score.refused.append(seen.name)
            print(f"{seen.name}: refused: {seen.refused}", flush=True)
            continue
        shared = seen.traced.outline.intersection(seen.outline).area
        score.outlines.append(shared / seen.traced.outline.union(seen.outline).area)
        said = score.add(face, seen.flaws, seen.traced.wane)
        print(f"{said}, outline IoU {score.outlines[-1]:.3f}", flush=True)
        if pictures:
            save_case(pictures / "photo", face, *score.notes[-1][1:])
    return score


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="100-119", help="first-last")
    parser.add_argument("--photos", help="first-last; the same seeds unless told otherwise")
    parser.add_argument("--only", choices=("flat", "photo"))
    parser.add_argument("--jobs", type=int, default=1, help="faces side by side")
    parser.add_argument(
        "--pictures", type=Path, help="folder for pictures of misses and false ones"
    )
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    for way, run, span in (
        ("flat", flats, chosen.seeds),
        ("photo", photos, chosen.photos or chosen.seeds),
    ):
        if chosen.only not in (None, way):
            continue
        first, last = (int(v) for v in span.split("-"))
        score = run(range(first, last + 1), chosen.pictures, chosen.jobs)
        figures = score.figures()
        if way == "photo":
            count = len(score.outlines) + len(score.refused)
            good = sum(v >= 0.97 for v in score.outlines)
            told = share_text(good, count)
            if score.outlines:
                told = f"mean {np.mean(score.outlines):.3f}, {told}"
            claim = "outline against the truth (IoU); faces at 0.97, refused ones counted"
            figures = (Figure(claim, told, "0.97", good == count), *figures)
        print(f"== {way}")
        for row in figures:
            print(f"{row.claim}: {row.figure} (bar {row.bar}, met {row.met})")
        print(score.tally.text())
        what = "flat faces" if way == "flat" else "photographs of 8 megapixels with the strip"
        keep(
            Bench(
                f"flaws-two-{way}",
                f"Flaws on wood of another making, {what}",
                f"a second renderer's boards of seeds {span}, written without reading the first",
                f"python -m tests.bench.flaws_two --seeds {span} --only {way}",
                figures,
            )
        )


if __name__ == "__main__":
    main()
