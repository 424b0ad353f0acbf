"""The bars that flaws on a face are held against, each with exactly its limits and without them.

A crack's opening comes from the board's own truth, how fine it is shown from its photograph.
"""

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from scanner.geometry.polygons import iou, union_of
from tests.bench.faces import FlatFace
from tests.bench.figures import Figure, mean_text, share_text
from tests.bench.seeing import COVERED, CRACKS, SPOTS, covered, is_same, recipe
from tests.render.cracks import Crack, Marks
from tests.render.shape import Shape

OPENS_MM, FINE_MM_PER_PX, CRACK_MM = 0.3, 0.7, 20.0
_KNOT_MM, _HOLE_MM, _WANE_MM2, _REACH_OFF_MM = 6.0, 3.0, 100.0, 10.0
_WANE_SHARE, _NEAR_MM = 0.3, 2.0
_ALL_CRACKS = "cracks over 20 mm, all"
BAR_CRACKS = "checks and splits over 20 mm that open 0.3 mm, at 0.7 mm/px or finer"
# Bark that comes and goes leaves one wane in pieces, many shallower than a sawn edge wanders.
_KNOTS, _WANE, _HOLES = "knots over 6 mm", "wane", "holes over 3 mm"
_FACE_WANE = "wane, all of a face as one"
_SHARES = {_KNOTS: 0.97, BAR_CRACKS: 0.90, _WANE: 0.97, _HOLES: 0.90}
_SURE = 0.9


@dataclass(frozen=True)
class CrackFacts:
    """What of a crack on one face is not seen in its outline.

    Attributes
    ----------
    opens_mm
        Its greatest opening on this face.
    wide_share
        To what share of its reach from the end it opens 0.3 mm (0 of a surface check).
    mm_per_px
        Of the photograph there: the side of a square as large as a pixel's place on the face.
    """

    opens_mm: float
    wide_share: float
    mm_per_px: float


def crack_facts(face: FlatFace) -> dict[int, CrackFacts]:
    """Return the facts of each crack of a face by the ``id`` of its truth."""
    seed, side = (int(v) for v in face.name.split("-"))
    board, _ = recipe(seed, side)
    shape = Shape(board)
    z = 0.0 if side == 1 else board.thickness_mm
    shown = [
        crack
        for crack in Marks(shape).cracks
        if any(crack.outline(height) is not None for height in (0.0, board.thickness_mm))
    ]
    truths = [flaw for flaw in face.truth.board.flaws if flaw.kind in CRACKS]
    if [crack.spec.kind for crack in shown] != [flaw.kind for flaw in truths]:
        raise ValueError(f"{face.name}: the board was drawn by another version of its renderer")
    return {
        id(flaw): CrackFacts(
            *_openings(crack, z),
            mm_per_px_at(face.truth.photo_from_face, np.mean(flaw.outlines[str(side)][0], axis=0)),
        )
        for crack, flaw in zip(shown, truths, strict=True)
        if str(side) in flaw.outlines
    }


def _openings(crack: Crack, z: float) -> tuple[float, float]:
    """Return a crack's greatest opening at a height and how far it opens 0.3 mm, as a share."""
    spec = crack.spec
    if not spec.end:
        x = np.linspace(spec.x - spec.reach1 / 2, spec.x + spec.reach1 / 2, 201)
        return float(crack.opening(x, np.full_like(x, spec.y), z).max()), 0.0
    y = np.full(201, float(spec.y))
    reach = spec.reach1 if z == 0 else spec.reach2
    start = float(crack.from_end(np.zeros(1), y[:1])[0])
    steps = np.linspace(0, reach, 201)
    x = -start + steps if spec.end == "A" else start - steps
    wide = crack.opening(x, y, z)
    return float(wide.max()), float((wide >= OPENS_MM).mean())


def mm_per_px_at(photo_from_face, at) -> float:
    """Return the side (mm) of a square as large as a photo's pixel at a place on the face."""
    px = photo_from_face(np.asarray(at) + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    return float(1.0 / np.sqrt(abs(np.linalg.det(px[1:] - px[0]))))


@dataclass
class Bars:
    """Hits by claim and board, and what is measured of what was found."""

    hits: dict = field(default_factory=lambda: defaultdict(lambda: defaultdict(lambda: [0, 0])))
    false: dict = field(default_factory=lambda: defaultdict(list))
    ious: dict = field(default_factory=lambda: defaultdict(list))
    # Of each end crack with a told reach: board, which crack, told, true, 0.3 mm wide to (mm),
    # and mm per pixel.
    reaches: list = field(default_factory=list)
    silent_ends: int = 0
    sound: list = field(default_factory=list)
    sure: list = field(default_factory=list)

    def mark(self, claim: str, board: str, hit: bool) -> None:
        pair = self.hits[claim][board]
        pair[0] += bool(hit)
        pair[1] += 1

    def add(self, face: FlatFace, flaws, wrong, wane=None) -> None:
        """Count a face; ``wrong`` are its false candidates, ``wane`` what was traced of it."""
        board = face.name.split("-")[0]
        self.false[board].append(len(wrong))
        false = {id(flaw) for flaw in wrong}
        self.sure += [
            (flaw.score, id(flaw) not in false)
            for flaw in flaws
            if flaw.score is not None and flaw.kind.value != "wild_grain"
        ]
        facts = crack_facts(face)
        number = {id(flaw): n for n, flaw in enumerate(face.truth.board.flaws)}
        whole_wane = union_of([shape for kind, _, shape in face.flaws if kind == "wane"])
        near = [shape for shape in wane or () if shape.intersects(whole_wane)]
        if near:
            # Wane with gaps is one flaw.
            self.ious["wane"].append(iou(union_of(near), whole_wane))
        if wane is not None and whole_wane.area > _WANE_MM2:
            share = union_of(wane).intersection(whole_wane).area / whole_wane.area
            self.mark(_FACE_WANE, board, share > _WANE_SHARE)
        for kind, truth, shape in face.flaws:
            if kind == "wane":
                self._wane(board, shape, wane)
                continue
            whole = shape.intersection(face.outline)
            if whole.area <= 1:
                continue
            if kind in CRACKS:
                which = (board, number[id(truth)])
                self._crack(which, truth, whole, facts[id(truth)], flaws)
            elif kind in SPOTS:
                self._spot(board, kind, truth, whole, flaws)

    def _wane(self, board, shape, wane) -> None:
        if wane is None or shape.area <= _WANE_MM2:
            return
        got = union_of(wane)
        hit = got.intersection(shape).area > _WANE_SHARE * shape.area
        self.mark(_WANE, board, hit)

    def _crack(self, which, truth, whole, facts, flaws) -> None:
        board, kind = which[0], truth.kind
        near = [f for f in flaws if f.kind.value in CRACKS]
        long = whole.bounds[2] - whole.bounds[0]
        if long > CRACK_MM:
            hit = covered(whole, [f.outlines[1] for f in near]) >= COVERED
            self.mark(_ALL_CRACKS, board, hit)
            fine = facts.mm_per_px <= FINE_MM_PER_PX
            if kind != "shake" and facts.opens_mm >= OPENS_MM and fine:
                self.mark(BAR_CRACKS, board, hit)
        if truth.look != "end":
            return
        own = [f for f in near if f.reach_mm and f.outlines[1].buffer(_NEAR_MM).intersects(whole)]
        if not own:
            self.silent_ends += 1
            return
        best = max(own, key=lambda f: covered(whole, [f.outlines[1]]))
        row = (board, which, best.reach_mm, long, long * facts.wide_share, facts.mm_per_px)
        self.reaches.append(row)

    def _spot(self, board, kind, truth, whole, flaws) -> None:
        size = float(2 * np.sqrt(whole.area / np.pi))
        hits = [f for f in flaws if f.kind.value in SPOTS and is_same(f.outlines[1], whole)]
        if hits:
            self.ious[kind].append(max(iou(f.outlines[1], whole) for f in hits))
        if kind == "knot":
            if hits:
                self.sound.append((truth.sound, hits[0].sound))
            self.mark("knots, all", board, bool(hits))
            if size > _KNOT_MM:
                self.mark(_KNOTS, board, bool(hits))
            if size > 10:
                self.mark("knots over 10 mm", board, bool(hits))
        else:
            self.mark(f"{kind.replace('_', ' ')}s, all", board, bool(hits))
            if kind == "hole" and size > _HOLE_MM:
                self.mark(_HOLES, board, bool(hits))

    def figures(self) -> tuple[Figure, ...]:
        """Return every bar as a row, and the rows without limits beside them."""
        rows = []
        for claim in sorted(self.hits):
            by_board = list(self.hits[claim].values())
            hits, total = (int(v) for v in np.sum(by_board, axis=0))
            bar = _SHARES.get(claim)
            told = f"{share_text(hits, total)}; over boards {over_boards(by_board)}"
            met = hits >= bar * total if bar else None
            rows.append(Figure(f"{claim} found", told, f"{bar:.2f}" if bar else "", met))
        if self.false:
            faces = np.concatenate(list(self.false.values()))
            per_board = [float(np.mean(v)) for v in self.false.values()]
            told = f"{mean_text(per_board)}, most {faces.max()}"
            met = bool(faces.mean() <= 1)
            rows.append(Figure("false candidates a face", told, "at most 1", met))
        for kind, values in sorted(self.ious.items()):
            middle, bar = float(np.median(values)), 0.85 if kind == "wane" else 0.75
            told = f"{middle:.2f} of {len(values)} found"
            rows.append(Figure(f"{kind}, median overlap (IoU)", told, str(bar), middle >= bar))
        return (*rows, *self._reach_rows(), *self._knot_rows(), *self._sure_rows())

    def _reach_rows(self) -> list[Figure]:
        if not self.reaches:
            return []
        told, true, wide, fine = np.array([row[2:] for row in self.reaches], float).T
        off = told - true
        # Between where it opens 0.3 mm and its tip a crack is thinner than what must be seen.
        outside = np.maximum(np.maximum(wide - told, told - true), 0.0)
        silent = f"; {self.silent_ends} end cracks with none told"
        ends: dict = defaultdict(lambda: [0.0, 0.0])
        for _, truth, said, real, *_ in self.reaches:
            longer = ends[truth]
            longer[:] = max(longer[0], said), max(longer[1], real)
        longest = np.array([said - real for said, real in ends.values()])
        at_bar = fine <= FINE_MM_PER_PX
        return [
            _reach_row("reach of end checks, to the tip", off, silent),
            _reach_row("the same at 0.7 mm/px or finer", off[at_bar]),
            _reach_row("reach, to where it opens 0.3 mm", told - wide),
            _reach_row("reach, outside of from 0.3 mm open to the tip", outside),
            _reach_row("reach of a face pair's crack, the longer of both", longest),
        ]

    def _knot_rows(self) -> list[Figure]:
        rows = []
        for claim, truth in (("loose, hollow or cracked", False), ("sound and tight", True)):
            said = [told for true, told in self.sound if true is truth]
            if said:
                count = {"loose": said.count(False), "nothing": said.count(None)}
                told = f"of {len(said)} said loose {count['loose']}, nothing {count['nothing']}"
                rows.append(Figure(f"knots that are {claim}", told))
        return rows

    def _sure_rows(self) -> list[Figure]:
        rows = []
        for low, high in ((_SURE, 1.01), (0.6, _SURE), (0.0, 0.6)):
            part = np.array([row for row in self.sure if low <= row[0] < high], float)
            if len(part):
                right = share_text(int(part[:, 1].sum()), len(part))
                told = f"{right} right, mean score {part[:, 0].mean():.2f}"
                name = f"scored {low} to {min(high, 1.0)}"
                rows.append(Figure(name, told, "as scored"))
        return rows


def _reach_row(claim: str, off, more: str = "") -> Figure:
    near = int((np.abs(off) <= _REACH_OFF_MM).sum())
    middle, most = np.percentile(np.abs(off), [50, 90]) if len(off) else (0.0, 0.0)
    told = f"within 10 mm {share_text(near, len(off))}, off {middle:.0f} (median), {most:.0f} mm"
    told += f" (90 %), mean {np.mean(off) if len(off) else 0:.1f}{more}"
    return Figure(claim, told, "0.90 within 10 mm", near >= 0.9 * len(off))


def over_boards(by_board) -> str:
    """Return the 95 % interval of a share when whole boards are drawn anew (bootstrap)."""
    counts = np.array(by_board, float)
    draws = np.random.default_rng(0).integers(0, len(counts), (2000, len(counts)))
    sums = counts[draws].sum(axis=1)
    low, high = np.quantile(sums[:, 0] / np.maximum(sums[:, 1], 1), [0.025, 0.975])
    return f"{100 * low:.0f} to {100 * high:.0f} %"
