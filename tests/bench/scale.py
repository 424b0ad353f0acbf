"""Is the scale right, and does U hold? Made scenes by the hundred, and rendered photos.

``python -m tests.bench.scale``: every kind of reference at the levels good, typical and hard,
200 scenes each, through the real fit, in two processes. What was measured with the same code is
kept in ``out/bench/scale``, so that a run that was broken off goes on. Printed are median, 95th
percentile and worst error with the median U in brackets, the share of truths inside U with its
binomial interval, and the bars (see `levels`). Seeds 61000 and up belong to this bench alone:
work on ``--development`` seeds.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy import stats

from scanner.errors import ScannerError
from tests.bench.levels import BARS, KINDS, LEVELS
from tests.bench.projected import draw_scene, measure

HELD_OUT, DEVELOPMENT = 61000, 3000
OUT = Path("out/bench/scale")
_AT_ONCE = 10
# What decides the figures: a change of anything else leaves them standing.
_VISION = ("assemble", "camera", "face_prior", "fit", "lengths", "model", "observations")
_VISION = (*_VISION, "references", "refit", "residuals", "scale", "scale_fit", "seen", "verdict")
_BENCH = ("levels", "made_marks", "scenes", "projected")
_CODE = (
    *(f"scanner/vision/{name}.py" for name in _VISION),
    *(f"tests/bench/{name}.py" for name in _BENCH),
)


@lru_cache
def code_hash(names: tuple[str, ...] = _CODE) -> str:
    """Return a name for the code that the figures come from."""
    root = Path(__file__).resolve().parents[2]
    files = [root / name for name in names]
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:10]


def _store(kind: str, level: str) -> Path:
    return OUT / code_hash() / f"{kind.replace(' ', '-').replace(',', '')}--{level}.jsonl"


def _run(kind: str, level: str, seeds: list[int]) -> list[str]:
    """Return a line of JSON for each seed; runs in another process."""
    lines = []
    for seed in seeds:
        row: dict[str, object] = {"seed": seed}
        try:
            found = measure(draw_scene(seed, KINDS[kind], LEVELS[level]))
            for what, outcomes in found.items():
                row[what] = [[round(one.error, 3), one.u] for one in outcomes]
        except ScannerError as refusal:
            row["refused"] = str(refusal)
        lines.append(json.dumps(row))
    return lines


def _rows(store: Path) -> dict[int, dict[str, list[list[float]]]]:
    if not store.exists():
        return {}
    rows = (json.loads(line) for line in store.read_text().splitlines())
    return {row["seed"]: row for row in rows}


def share_inside(errors: np.ndarray, us: np.ndarray, scenes: int) -> str:
    """Return the share of truths inside U and its 95 % interval (Clopper and Pearson, 1934).

    Distances of one scene stand or fall together, so the scenes are counted.
    """
    share = float(np.mean(errors <= us))
    inside = share * scenes
    low = stats.beta.ppf(0.025, inside, scenes - inside + 1) if inside > 0 else 0.0
    high = stats.beta.ppf(0.975, inside + 1, scenes - inside) if inside < scenes else 1.0
    return f"{100 * share:5.1f} % ({100 * low:.0f}-{100 * high:.0f})"


def line(what: str, found: list[list[float]], scenes: int, bars: tuple[float, float] | None) -> str:
    """Return one row of the table: errors, median U, share inside, worst error over U, bars."""
    table = np.array(found)
    errors, us = np.abs(table[:, 0]), table[:, 1]
    p95, u = float(np.percentile(errors, 95)), float(np.median(us))
    worst = float(np.max(errors / us))
    text = (
        f"  {what:7s} {np.median(errors):5.1f} /{p95:5.1f} /{errors.max():5.1f} ({u:4.1f})"
        f"  bias {np.mean(table[:, 0]):+5.2f}  in U {share_inside(errors, us, scenes)}"
        f"  worst {worst:.1f} U{' (OVER 3 U)' if worst > 3 else ''}"
    )
    if bars is not None:
        bar, bracket = bars
        met = "met" if p95 <= bar else "MISSED"
        narrow = "" if u <= 1.2 * bracket else f", U WIDER than 1.2 x {bracket}"
        text += f"  bar {bar} {met}{narrow}"
    return text


def report(kind: str, level: str, seeds: range) -> None:
    """Print the rows of one kind and level from what is stored."""
    stored = _rows(_store(kind, level))
    rows = [stored[seed] for seed in seeds if seed in stored]
    good = [row for row in rows if "refused" not in row]
    print(f"{kind}, {level}: {len(good)} scenes, {len(rows) - len(good)} refused", flush=True)
    bars = BARS.get((kind, level))
    for place, what in enumerate(("length", "width", "knots")):
        found = [pair for row in good for pair in row[what]]
        if found:
            pair = (bars[place], bars[2 + place]) if bars and place < 2 else None
            print(line(what, found, len(good), pair), flush=True)
    for row in [row for row in rows if "refused" in row][:2]:
        print("  refused:", row["refused"])


def run_projected(kinds: list[str], levels: list[str], seeds: range, workers: int) -> None:
    """Measure what is not stored yet, and print the table."""
    with ProcessPoolExecutor(workers) as pool:
        for kind in kinds:
            for level in levels:
                store = _store(kind, level)
                store.parent.mkdir(parents=True, exist_ok=True)
                missing = [seed for seed in seeds if seed not in _rows(store)]
                parts = [missing[i : i + _AT_ONCE] for i in range(0, len(missing), _AT_ONCE)]
                for lines in pool.map(_run, [kind] * len(parts), [level] * len(parts), parts):
                    with store.open("a") as file:
                        file.writelines(one + "\n" for one in lines)
                report(kind, level, seeds)


def main() -> None:
    """Run the bench as the arguments say."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scenes", type=int, default=200)
    arguments.add_argument("--levels", default="good,typical,hard")
    arguments.add_argument("--kinds", default="", help="only these, by name, separated by ;")
    arguments.add_argument("--development", action="store_true", help="seeds to work on")
    arguments.add_argument("--workers", type=int, default=2)
    chosen = arguments.parse_args()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    first = DEVELOPMENT if chosen.development else HELD_OUT
    kinds = [kind.strip() for kind in chosen.kinds.split(";") if kind.strip()] or list(KINDS)
    seeds = range(first, first + chosen.scenes)
    run_projected(kinds, chosen.levels.split(","), seeds, chosen.workers)


if __name__ == "__main__":
    main()
