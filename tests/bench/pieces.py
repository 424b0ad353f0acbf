"""Planed and trimmed pieces found again in a lot of four boards; how often, and never wrong.

``python -m tests.bench.pieces --seeds 8600-8640`` (held out; ``--ways free`` is slow).
The faces are rendered rough, the pieces planed 0.5 to 2.5 mm deeper without saw marks and dirt,
up to 25 mm trimmed along and across.
A place is right on the right board and face, the right way round, within 25 mm along and across.
"""

import argparse
import json
import time
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from scanner.vision.second_look.find_again import FoundAgain, find_again, is_sure
from scanner.vision.second_look.grain_print import grain_print
from tests.bench.figures import Bench, Figure, keep, share_interval, share_text
from tests.bench.piece_cases import LOT, MM_PER_PX, Case, cases_of, planned_of, prints_of

OUT = Path("out/bench/pieces")
RIGHT_MM = 25.0


@dataclass(frozen=True)
class Row:
    """What became of one piece one way.

    ``cuts``: the layout's pieces known; ``free``: not;

    ``foreign``: known, but the piece's own board is missing from the lot."""

    seed: int
    number: int
    way: str
    is_right: bool
    is_sure: bool
    gap: float
    score: float
    along_mm: float
    across_mm: float
    deep_mm: float
    length_mm: float
    elsewhere: float
    along_u_mm: float


def judged(case: Case, way: str, found: FoundAgain) -> Row:
    """Hold what was found against the truth."""
    cut = case.cut
    if not found.places:
        return Row(
            case.seed, case.number, way, False, False, 0, 0, 999, 999, cut.deep_mm, cut.length, 0, 0
        )
    best = found.places[0]
    along, across = best.x_mm - cut.x, best.y_mm - cut.y
    right = bool(
        best.board == f"S{case.seed}"
        and best.face == cut.face
        and best.is_turned == cut.is_turned
        and max(abs(along), abs(across)) <= RIGHT_MM
    )
    return Row(case.seed, case.number, way, right, found.is_sure, found.gap, best.score,
               along, across, cut.deep_mm, cut.length, found.elsewhere,
               best.along_u_mm)  # fmt: skip


def run(seeds: list[int], ways: list[str], count: int) -> list[Row]:
    """Find every piece of every seed."""
    rows = []
    for at, seed in enumerate(seeds):
        lot = [seeds[(at + n) % len(seeds)] for n in range(min(LOT, len(seeds)))]
        faces = [face for one in lot for face in prints_of(one)]
        cuts = [piece for one in lot for piece in planned_of(one)]
        for case in cases_of(seed, count):
            whole = np.ones(case.pixels.shape[:2], bool)
            piece = grain_print(case.pixels, whole, MM_PER_PX)
            size = (case.cut.length, case.cut.width)
            for way in ways:
                start = time.process_time()
                others = [face for face in faces if face.board.id != f"S{seed}"]
                found = find_again(
                    piece,
                    size,
                    others if way == "foreign" else faces,
                    () if way == "free" else cuts,
                )
                row = judged(case, way, found)
                rows.append(row)
                print(
                    f"{seed}-{case.number} {way:5} {'right' if row.is_right else 'WRONG'}"
                    f" {'sure' if row.is_sure else 'asks'} gap {row.gap:.2f} score {row.score:.3f}"
                    f" elsewhere {row.elsewhere:.3f}"
                    f" off {row.along_mm:+.0f} (U {row.along_u_mm:.0f}) {row.across_mm:+.0f} mm,"
                    f" {row.length_mm:.0f} mm"
                    f" long, {row.deep_mm:.1f} deep, {time.process_time() - start:.1f} s",
                    flush=True,
                )
    return rows


def _judged_again(row: Row) -> Row:
    """Return the row with what would be said today of its gap and score."""
    sure = is_sure(row.gap, row.score, row.elsewhere, knows_cuts=row.way != "free")
    return replace(row, is_sure=sure)


def figures(rows: list[Row], way: str) -> tuple[Figure, ...]:
    """Return what one way did."""
    mine = [row for row in rows if row.way == way]
    if way == "foreign":
        wrong = sum(row.is_sure for row in mine)
        return (Figure("its board not in the lot, yet said to be found",
                       share_text(wrong, len(mine)), "0", wrong == 0),)  # fmt: skip
    sure = [row for row in mine if row.is_sure]
    silent = [row for row in sure if not row.is_right]
    right = sum(row.is_right for row in mine)
    said = sum(row.is_right for row in sure)
    inside = sum(bool(abs(row.along_mm) <= row.along_u_mm) for row in sure)
    off = np.abs([row.along_mm for row in sure if row.is_right] or [np.nan])
    how = {"cuts": "layout's cuts known", "free": "nothing known but the lot"}[way]
    high = share_interval(len(silent), len(mine))[1]
    if way == "free":  # never said without asking
        return (Figure(f"best place offered is right ({how})", share_text(right, len(mine))),)
    return (
        Figure(f"best place is right ({how})", share_text(right, len(mine)), "95 %",
               bool(right >= 0.95 * len(mine))),
        Figure(f"said without asking, and right ({how})", share_text(said, len(mine))),
        Figure(f"said without asking, and wrong ({how})",
               f"{len(silent)} of {len(mine)} (up to {100 * high:.0f} % not ruled out)", "0",
               not silent),
        Figure(f"off along the board, where said ({how})",
               f"median {np.median(off):.1f} mm, largest {off.max():.0f} mm"),
        Figure(f"place along inside its U, where said ({how})", share_text(inside, len(sure)),
               "95 %", inside >= 0.95 * len(sure)),
    )  # fmt: skip


def main() -> None:
    """Run the bench and keep its figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8600-8640", help="first-last")
    parser.add_argument("--ways", default="cuts,free,foreign")
    parser.add_argument("--count", type=int, default=2, help="pieces a board")
    parser.add_argument("--again", action="store_true", help="figures of the rows kept last time")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    first, last = (int(v) for v in chosen.seeds.split("-"))
    ways = chosen.ways.split(",")
    kept = OUT / f"rows-{chosen.seeds}.json"
    if chosen.again:
        rows = [_judged_again(Row(**row)) for row in json.loads(kept.read_text())]
    else:
        rows = run(list(range(first, last + 1)), ways, chosen.count)
        OUT.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps([vars(row) for row in rows], default=float))
    found = tuple(f for way in ways for f in figures(rows, way))
    for figure in found:
        print(f"{figure.claim}: {figure.figure} {figure.bar}")
    keep(
        Bench(
            name="pieces",
            title="A planed piece found again",
            data=f"rendered boards {chosen.seeds}, lots of {LOT}, {chosen.count} pieces a board",
            command=f"python -m tests.bench.pieces --seeds {chosen.seeds} --ways {chosen.ways}",
            figures=found,
        )
    )


if __name__ == "__main__":
    main()
