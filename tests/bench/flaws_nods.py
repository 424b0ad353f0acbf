"""What nods on the first board of a lot are worth on its next four, against truth.

``python -m tests.bench.flaws_nods --wood two --seeds 100-123 --jobs 16`` looks at flat faces of
either renderer (``one``, ``two``), or at real sawn softwood (``real``, boards nobody trained on,
the scan's own finders). Boards of one species stand for a lot. Each board once is the first, a
careful person nods at all its candidates, and the scores of up to four others drawn from the lot
are told without and with what that teaches. A candidate that is scored an even bet or more says
"flaw": F1 over knots, holes and bark pockets over 6 mm and cracks over 20 mm, missed ones
counted; log loss over all candidates. ``--keep FILE`` keeps what was seen, ``--kept FILE`` reads
it again.
"""

import argparse
import json
import math
from collections import defaultdict
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.taught import Taught, taught_by
from scanner.vision.flaws import find_flaws
from tests.bench import faces, flaws_two
from tests.bench.flaws import is_right, off_outline, wane_of
from tests.bench.many import in_order
from tests.bench.seeing import CRACKS, SPOTS, covered, is_same
from tests.bench.wood import faces as real_faces
from tests.bench.wood import pictures
from tests.common import plain_board
from tests.render_two.flat import flat_view

_SPOT_MM, _CRACK_MM, _FOUND = 6.0, 20.0, 0.4
_NEXT, _DRAWS = 4, 3
_REAL_KINDS = {"knot_sound": "knot", "knot_loose": "knot"}


@dataclass(frozen=True)
class Seen:
    """A candidate: what the finders say, whether it is right, how much it shows of which flaw."""

    kind: str
    score: float
    right: bool
    shows: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class SeenFace:
    """A face's candidates, and the number of flaws there were to find."""

    lot: str
    board: str
    flaws: int
    seen: list[Seen]


def seen_face(lot: str, board: str, face, found) -> SeenFace:
    """Return what was found on a face against its truth."""
    wood = [(kind, flaw, shape.intersection(face.outline)) for kind, flaw, shape in face.flaws]
    wood = [(kind, flaw, shape) for kind, flaw, shape in wood if kind != "wane" and shape.area > 0]
    wanted = [
        (kind, shape)
        for kind, _, shape in wood
        if (kind in CRACKS and shape.bounds[2] - shape.bounds[0] > _CRACK_MM)
        or (kind in SPOTS and 2 * math.sqrt(shape.area / math.pi) > _SPOT_MM)
    ]
    seen = []
    for flaw in found:
        group = next((g for g in (CRACKS, SPOTS) if flaw.kind.value in g), None)
        if group is None:
            continue
        shape = flaw.outlines[1]
        shows = {
            str(number): covered(true, [shape]) if group is CRACKS else float(is_same(shape, true))
            for number, (kind, true) in enumerate(wanted)
            if kind in group
        }
        shows = {number: share for number, share in shows.items() if share > 0}
        right = bool(is_right(flaw, wood))
        seen.append(Seen(flaw.kind.value, float(flaw.score or 0.0), right, shows))
    return SeenFace(lot, board, len(wanted), seen)


def _rendered(job: tuple[int, int], wood: str) -> SeenFace:
    cv2.setNumThreads(1)
    face = faces.flat_face(*job) if wood == "one" else flaws_two.flat_face(flat_view(*job))
    found = find_flaws(face.picture, off_outline(face), wane_of(face))
    return seen_face(face.species, str(job[0]), face, found)


def _real() -> list[SeenFace]:
    boards = {face.name: face.board for face in real_faces("val")}
    made = []
    for name, picture, outline, labels in pictures("val"):
        true = tuple((_REAL_KINDS.get(kind, kind), None, shape) for kind, shape in labels)
        face = faces.FlatFace(name, picture, outline, true, "softwood", None)
        made.append(seen_face("softwood", boards[name], face, find_flaws(picture, outline)))
    return made


def nodded(number: int, board: list[SeenFace]) -> Board:
    """Return a board after a careful person kept its right candidates and struck the others."""
    given = plain_board(f"B{number:02}")
    flaws = tuple(
        Flaw(
            f"F{at}",
            FlawKind(one.kind),
            {1: given.faces[1].outline},
            score=one.score,
            state=FlawState.CONFIRMED if one.right else FlawState.STRUCK,
        )
        for at, one in enumerate(one for face in board for one in face.seen)
    )
    return replace(given, flaws=flaws)


@dataclass
class Told:
    """Sums over boards."""

    true: int = 0
    false: int = 0
    missed: int = 0
    loss: float = 0.0
    told: int = 0

    def add(self, face: SeenFace, taught: Taught) -> None:
        """Count a face whose candidates are scored as the lot taught."""
        shown: dict[str, float] = defaultdict(float)
        for one in face.seen:
            score = taught.score_of(Flaw("F", FlawKind(one.kind), score=one.score)) or 0.0
            score = min(max(score, 0.01), 0.99)
            self.loss -= math.log(score if one.right else 1 - score)
            self.told += 1
            if score < 0.5:
                continue
            self.true += one.right
            self.false += not one.right
            for flaw, share in one.shows.items():
                shown[flaw] += share
        self.missed += face.flaws - sum(share >= _FOUND for share in shown.values())

    @property
    def f1(self) -> float:
        """F1 of what says "flaw"."""
        return 2 * self.true / max(2 * self.true + self.false + self.missed, 1)


def report(every: list[SeenFace]) -> None:
    """Print F1 and log loss without and with the nods at one board."""
    lots: dict[str, dict[str, list[SeenFace]]] = defaultdict(lambda: defaultdict(list))
    for face in every:
        lots[face.lot][face.board].append(face)
    ways = {"without nods": Told(), "with nods": Told()}
    gains, rng = [], np.random.default_rng(0)
    for boards in (list(lot.values()) for lot in lots.values() if len(lot) > 2):
        for first, board in enumerate(boards):
            taught = {"without nods": Taught(), "with nods": taught_by([nodded(first, board)])}
            others = [other for other in boards if other is not board]
            own = {way: Told() for way in ways}
            for _ in range(_DRAWS):
                for at in rng.permutation(len(others))[:_NEXT]:
                    for way, said in taught.items():
                        for face in others[at]:
                            ways[way].add(face, said)
                            own[way].add(face, said)
            gains.append(own["with nods"].f1 - own["without nods"].f1)
    counts = {name: len(lot) for name, lot in lots.items()}
    print(f"{len(every)} faces; boards of each lot: {counts}")
    for way, told in ways.items():
        loss = told.loss / max(told.told, 1)
        print(f"{way}: F1 {told.f1:.3f} (right {told.true}, false {told.false}, missed"
              f" {told.missed}), log loss {loss:.3f} of {told.told} candidates")  # fmt: skip
    if gains:
        draws = rng.choice(gains, (2000, len(gains))).mean(axis=1)
        low, high = np.quantile(draws, [0.025, 0.975])
        print(f"gain in F1 over first boards: {np.mean(gains):+.3f} ({low:+.3f} to {high:+.3f})")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wood", choices=("one", "two", "real"), default="two")
    parser.add_argument("--seeds", default="100-123", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--kept", type=Path)
    chosen = parser.parse_args()
    if chosen.kept:
        rows = json.loads(chosen.kept.read_text(encoding="utf-8"))
        every = [SeenFace(**{**r, "seen": [Seen(**one) for one in r["seen"]]}) for r in rows]
    elif chosen.wood == "real":
        every = _real()
    else:
        first, last = (int(v) for v in chosen.seeds.split("-"))
        jobs = [(seed, side) for seed in range(first, last + 1) for side in (1, 2)]
        every = list(in_order(partial(_rendered, wood=chosen.wood), jobs, chosen.jobs))
    if chosen.keep:
        chosen.keep.write_text(json.dumps([asdict(face) for face in every]), encoding="utf-8")
    report(every)


if __name__ == "__main__":
    main()
