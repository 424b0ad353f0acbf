"""``python -m tests.mutation``: put small faults into the code, one at a time, and run its tests.

A fault that no test notices survives. Those that change nothing anybody could see (`equivalent`
beside this file argues each one) are left out of the share that was killed.
"""

import argparse
import importlib
import json
import os
import random
import time
from pathlib import Path

from tests.bench.figures import Bench, Figure, keep, share_text
from tests.mutation.changes import Mutant, mutants
from tests.mutation.equivalent import is_equivalent, source_of
from tests.mutation.subjects import SUBJECTS
from tests.mutation.trial import Trial, run_all

# Loaded once, before the children are forked; none of our own code.
_LIBRARIES = (
    *(
        "numpy",
        "scipy.optimize",
        "scipy.sparse",
        "scipy.ndimage",
        "shapely.ops",
        "shapely.affinity",
    ),
    *("numba", "hypothesis", "hypothesis.strategies", "pytest", "pydantic"),
)
_AT_LEAST_S, _TIMES = 30.0, 6.0
_LONGEST_S = 600.0


def main() -> int:
    """Print the share killed by module and every survivor; status 1 under the bar."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--sample", type=int, default=0, help="faults a module, 0 for all")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--bar", type=float, default=0.85)
    asked.add_argument("--only", nargs="*", default=list(SUBJECTS), help="modules, or their starts")
    asked.add_argument("--minutes", type=float, default=1e6, help="begin no further fault then")
    asked.add_argument("--list", action="store_true", help="count the faults, run nothing")
    asked.add_argument("-o", "--out", type=Path, default=Path("out/mutation.json"))
    options = asked.parse_args()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
        os.environ[name] = "1"
    modules = [name for name in SUBJECTS if any(name.startswith(start) for start in options.only)]
    chosen = [
        (name, fault) for name in modules for fault in _sample(name, options.sample, options.seed)
    ]
    for name in modules:
        print(f"{name:40} {sum(name == module for module, _ in chosen):5} faults", flush=True)
    if options.list:
        return 0
    for library in _LIBRARIES:
        importlib.import_module(library)
    patience = _patience({SUBJECTS[name] for name in modules}, options.jobs)
    end = time.monotonic() + 60 * options.minutes
    trials = [
        Trial(n, name, fault.source, SUBJECTS[name], patience[SUBJECTS[name]])
        for n, (name, fault) in enumerate(chosen)
    ]
    # A mixture of modules, so that one that ends early is a sample of all.
    random.Random(options.seed).shuffle(trials)
    fates: dict[int, str] = {}
    for number, fate, _ in run_all(trials, options.jobs, lambda: time.monotonic() > end):
        fates[number] = fate
        if len(fates) % 100 == 0:
            print(f"{len(fates)} of {len(trials)} tried", flush=True)
    rows = [
        {"module": chosen[n][0], "line": chosen[n][1].line, "text": chosen[n][1].text,
         "change": chosen[n][1].change, "fate": fate,
         "equivalent": is_equivalent(chosen[n][0], chosen[n][1])}
        for n, fate in sorted(fates.items())
    ]  # fmt: skip
    options.out.parent.mkdir(parents=True, exist_ok=True)
    options.out.write_text(json.dumps(rows, indent=0, ensure_ascii=False))
    share = _report(rows, modules)
    if modules == list(SUBJECTS):
        _keep_figures(rows, options.bar, f"--seed {options.seed}", len(trials))
    return 0 if share >= options.bar else 1


def _sample(module: str, most: int, seed: int) -> list[Mutant]:
    every = mutants(source_of(module))
    if not most or most >= len(every):
        return every
    return random.Random(f"{module} {seed}").sample(every, most)


def _patience(groups: set[tuple[str, ...]], jobs: int) -> dict[tuple[str, ...], float]:
    """Return how long each group of tests may take; all must pass on the code as it is."""
    ordered = sorted(groups)
    trials = [Trial(n, "", None, tests, _LONGEST_S) for n, tests in enumerate(ordered)]
    patience = {}
    # Twice: the first time may have kernels to compile.
    for number, fate, seconds in (*run_all(trials, jobs), *run_all(trials, jobs)):
        if fate != "survived":
            raise SystemExit(f"these tests fail without any fault: {ordered[number]}")
        patience[ordered[number]] = seconds
    for tests, seconds in patience.items():
        print(f"{seconds:6.1f} s  {' '.join(tests)}", flush=True)
    return {tests: max(_AT_LEAST_S, _TIMES * seconds) for tests, seconds in patience.items()}


def _tally(rows: list[dict]) -> tuple[int, int]:
    """Return how many faults were killed, and of how many that change anything."""
    killed = sum(row["fate"] != "survived" for row in rows)
    same = sum(row["equivalent"] and row["fate"] == "survived" for row in rows)
    return killed, len(rows) - same


def _keep_figures(rows: list[dict], bar: float, asked: str, every: int) -> None:
    """Keep the shares by group for PROOF.md."""
    figures = []
    for title, start in (
        ("units", "scanner.units"), ("geometry", "scanner.geometry"),
        ("placement rules", "scanner.placement.rules"),
        ("the judge of layouts", "scanner.placement.validator"), ("all", "scanner"),
    ):  # fmt: skip
        killed, of = _tally([row for row in rows if row["module"].startswith(start)])
        figures.append(
            Figure(f"faults noticed by the tests: {title}", share_text(killed, of),
                   f"{100 * bar:.0f} %", killed >= bar * of)
        )  # fmt: skip
    keep(
        Bench(
            "mutation", "Small faults put into the code that measures and judges",
            f"{len(rows)} of {every} faults, one at a time", f"python -m tests.mutation {asked}",
            tuple(figures),
        )
    )  # fmt: skip


def _report(rows: list[dict], modules: list[str]) -> float:
    print(f"{'module':40} {'faults':>6} {'same':>5} {'killed':>6} {'late':>5} {'share':>6}")
    for name in (*modules, "all"):
        own = [row for row in rows if name in ("all", row["module"])]
        late = sum(row["fate"] == "timeout" for row in own)
        killed, of = _tally(own)
        share = killed / of if of else 1.0
        same = len(own) - of
        print(f"{name:40} {len(own):6} {same:5} {killed:6} {late:5} {100 * share:5.1f}%")
    for row in rows:
        if row["fate"] == "survived" and not row["equivalent"]:
            print(f"{row['module']}:{row['line']}: {row['change']}\n    {row['text']}")
    return share


if __name__ == "__main__":
    raise SystemExit(main())
