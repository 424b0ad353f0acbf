"""Is the scale right, and does U hold? Made scenes by the hundred, and rendered photos.

``python -m tests.bench.scale``: every kind of reference at the levels good, typical and hard,
200 scenes each, through the real fit, in two processes. What was measured with the same code is
kept in ``out/bench/scale``, so that a run that was broken off goes on. Printed are median, 95th
percentile and worst error with the median U in brackets, the share of truths inside U with its
binomial interval, and the bars (see `levels`): met where the 95th percentile is not above the
bar, "within chance" where the scenes' own scatter (bootstrap) reaches down to it. Beside it stands
the percentile that the stated U leads one to expect. Seeds 73200 to 73999 are for measuring, each
only once: work on ``--development`` seeds. ``--barred`` takes the kinds and levels that have a
bar, and ``--keep`` keeps the figures for PROOF.md.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import os
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy import stats

from scanner.errors import ScannerError
from tests.bench.figures import Bench, Figure, keep, share_interval
from tests.bench.levels import BARS, KINDS, LEVELS
from tests.bench.many import workers
from tests.bench.projected import drawn, measure

HELD_OUT, DEVELOPMENT = 73600, 3000
OUT = Path("out/bench/scale")
_AT_ONCE = 10
# Bar of what lies between points that nobody taped. The prototype gave neither it nor its U: its
# own row of a taped rule is the taped length, which errs by the tape's 1.5 mm (95 %: 2.9).
_NOT_TAPED = (3.0, math.inf)
# What decides the figures: a change of anything else leaves them standing.
_ROOT = Path(__file__).resolve().parents[2]
_VISION = _ROOT / "scanner" / "vision"
_CODE = (
    *(_VISION / "fit").glob("*.py"),
    *(_VISION / "evidence").glob("*.py"),
    *(_VISION / f"{name}.py" for name in ("scale", "setup", "rule/marker_bleed")),
    *(_ROOT / f"tests/bench/{name}.py" for name in ("levels", "made_marks", "scenes", "projected")),
)


@lru_cache
def code_hash(files: tuple[Path, ...] = _CODE) -> str:
    """Return a name for the code that the figures come from."""
    text = b"".join(path.read_bytes() for path in sorted(files))
    return hashlib.sha256(text).hexdigest()[:10]


def _store(kind: str, level: str) -> Path:
    return OUT / code_hash() / f"{kind.replace(' ', '-').replace(',', '')}--{level}.jsonl"


def _run(kind: str, level: str, seeds: list[int]) -> list[str]:
    """Return a line of JSON for each seed; runs in another process."""
    lines = []
    for seed in seeds:
        row: dict[str, object] = {"seed": seed}
        try:
            found = measure(drawn(seed, KINDS[kind], LEVELS[level]))
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


def scatter_of_p95(scenes: list[np.ndarray]) -> tuple[float, float]:
    """Return the 95 % interval of a 95th percentile: whole scenes drawn again (Efron, 1979)."""
    random = np.random.default_rng(0)
    count = len(scenes)
    again = [
        np.percentile(np.concatenate([scenes[i] for i in random.integers(0, count, count)]), 95)
        for _ in range(400)
    ]
    return float(np.percentile(again, 2.5)), float(np.percentile(again, 97.5))


def p95_by_u(us: np.ndarray) -> float:
    """Return the 95th percentile of errors that are as large as their stated U says."""
    sds = np.asarray(us) / 2
    low, high = 0.0, float(4 * sds.max())
    for _ in range(40):
        middle = (low + high) / 2
        inside = float(np.mean(2 * stats.norm.cdf(middle / sds) - 1))
        low, high = (middle, high) if inside < 0.95 else (low, middle)
    return high


def line(what: str, scenes: list[list[list[float]]], bars: tuple[float, float] | None) -> str:
    """Return one row of the table from [error, U] of each distance of each scene."""
    table = np.concatenate([np.array(found) for found in scenes])
    errors, us = np.abs(table[:, 0]), table[:, 1]
    p95, u = float(np.percentile(errors, 95)), float(np.median(us))
    low, high = scatter_of_p95([np.abs(np.array(found)[:, 0]) for found in scenes])
    worst = float(np.max(errors / us))
    text = (
        f"  {what:7s} {np.median(errors):5.2f} /{p95:5.2f} ({low:.2f}-{high:.2f}; by U "
        f"{p95_by_u(us):.2f}) /{errors.max():5.1f}  U {u:4.1f}  bias {np.mean(table[:, 0]):+5.2f}"
        f"  in U {share_inside(errors, us, len(scenes))}"
        f"  worst {worst:.1f} U{' (OVER 3 U)' if worst > 3 else ''}"
    )
    if bars is not None:
        bar, bracket = bars
        met = "met" if p95 <= bar else ("within chance" if low <= bar else "MISSED")
        narrow = "" if u <= 1.2 * bracket else f", U WIDER than 1.2 x {bracket}"
        text += f"  bar {bar} {met}{narrow}"
    return text


def seam_line(scenes: list[list[list[float]]]) -> str:
    """Return the row of the seams: the step there, and how many are under the most allowed."""
    table = np.concatenate([np.array(found) for found in scenes])
    steps, most = table[:, 0], table[:, 1]
    return (
        f"  seam    {np.median(steps):5.2f} /{np.percentile(steps, 95):5.2f} /{steps.max():5.2f}"
        f"  under {most[0]} mm: {share_inside(steps, most, len(scenes))}"
    )


def figures_of(title: str, what: str, scenes: list[list[list[float]]], bar: float) -> Figure:
    """Return one claim: where 95 % of the errors lie, U, and the share inside U."""
    table = np.concatenate([np.array(found) for found in scenes])
    errors, us = np.abs(table[:, 0]), table[:, 1]
    low, high = scatter_of_p95([np.abs(np.array(found)[:, 0]) for found in scenes])
    p95, over = float(np.percentile(errors, 95)), int((errors > 3 * us).sum())
    # Distances of one scene stand or fall together, so the scenes are counted.
    share = float(np.mean(errors <= us))
    inside = share_interval(round(share * len(scenes)), len(scenes))
    within = f"{100 * share:.0f} % ({100 * inside[0]:.0f} to {100 * inside[1]:.0f}) inside"
    text = (
        f"{p95:.1f} mm ({low:.1f} to {high:.1f}); median ± {np.median(us):.1f}; {within}, "
        f"{over} beyond 3 ±"
    )
    met = round(p95, 1) <= bar
    return Figure(f"{title}: {what}", text, f"{bar} mm", met, not met and round(low, 1) <= bar)


_WORDS = {"length": "lengths", "width": "widths", "knots": "points not taped"}


def _bars_of(kind: str, level: str) -> dict[str, tuple[float, float]]:
    """Return the bar and the bracket of its U of what has one."""
    bars = BARS.get((kind, level))
    out = {} if bars is None else {"length": (bars[0], bars[2]), "width": (bars[1], bars[3])}
    if level == "typical" and kind.startswith("rule + taped length"):
        out["knots"] = _NOT_TAPED
    return out


def kept_figures(pairs: list[tuple[str, str]], seeds: range) -> tuple[Figure, ...]:
    """Return the claims of what has a bar, from what is stored."""
    out = []
    for kind, level in pairs:
        stored = _rows(_store(kind, level))
        good = [stored[seed] for seed in seeds if "refused" not in stored.get(seed, {"refused": 0})]
        for what, (bar, _) in _bars_of(kind, level).items():
            out.append(figures_of(f"{kind}, {level}", _WORDS[what], [r[what] for r in good], bar))
    return tuple(out)


def report(kind: str, level: str, seeds: range) -> None:
    """Print the rows of one kind and level from what is stored."""
    stored = _rows(_store(kind, level))
    rows = [stored[seed] for seed in seeds if seed in stored]
    good = [row for row in rows if "refused" not in row]
    print(f"{kind}, {level}: {len(good)} scenes, {len(rows) - len(good)} refused", flush=True)
    bars = _bars_of(kind, level)
    for what in ("length", "width", "knots"):
        if good:
            print(line(what, [row[what] for row in good], bars.get(what)), flush=True)
    if good and "seam" in good[0]:
        print(seam_line([row["seam"] for row in good]), flush=True)
    for row in [row for row in rows if "refused" in row][:2]:
        print("  refused:", row["refused"])


def run_projected(pairs: list[tuple[str, str]], seeds: range, jobs: int) -> None:
    """Measure what is not stored yet, and print the table."""
    with workers(jobs) as pool:
        for kind, level in pairs:
            store = _store(kind, level)
            store.parent.mkdir(parents=True, exist_ok=True)
            known = _rows(store)
            missing = [seed for seed in seeds if seed not in known]
            at_once = max(1, min(_AT_ONCE, len(missing) // (2 * jobs)))
            parts = [missing[i : i + at_once] for i in range(0, len(missing), at_once)]
            for lines in pool.map(_run, [kind] * len(parts), [level] * len(parts), parts):
                with store.open("a") as file:
                    file.writelines(one + "\n" for one in lines)
            report(kind, level, seeds)


def _pairs(kinds: str, levels: str, *, barred: bool) -> list[tuple[str, str]]:
    named = [kind.strip() for kind in kinds.split(";") if kind.strip()] or list(KINDS)
    pairs = [(kind, level) for kind in named for level in levels.split(",")]
    return [pair for pair in pairs if _bars_of(*pair)] if barred else pairs


def main() -> None:
    """Run the bench as the arguments say."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scenes", type=int, default=200)
    arguments.add_argument("--first", type=int, default=HELD_OUT, help="first seed")
    arguments.add_argument("--levels", default="good,typical,hard")
    arguments.add_argument("--kinds", default="", help="only these, by name, separated by ;")
    arguments.add_argument("--barred", action="store_true", help="only what has a bar")
    arguments.add_argument("--development", action="store_true", help="seeds to work on")
    arguments.add_argument("--keep", action="store_true", help="keep the figures for PROOF.md")
    arguments.add_argument("--jobs", type=int, default=2)
    chosen = arguments.parse_args()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    first = DEVELOPMENT if chosen.development else chosen.first
    seeds = range(first, first + chosen.scenes)
    pairs = _pairs(chosen.kinds, chosen.levels, barred=chosen.barred)
    run_projected(pairs, seeds, chosen.jobs)
    if chosen.keep:
        command = f"python -m tests.bench.scale --barred --first {first} --scenes {chosen.scenes}"
        data = (
            f"scenes of seeds {seeds[0]}-{seeds[-1]}: projected, noisy marks through the real fit; "
            "8 ft but where said"
        )
        title = "Lengths in made scenes: 95 % of errors lie within"
        keep(Bench("scale", title, data, command, kept_figures(pairs, seeds)))


if __name__ == "__main__":
    main()
