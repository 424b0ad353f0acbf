"""``python -m tests.fuzz --minutes 60``: attack every border and print what became of it.

``--jobs N`` divides the time between N processes. Job k attacks every border with a seed of its
own, made of ``--seed`` and k, so that the same command tries the same files, as far as it gets.
"""

import argparse
import platform
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path

from tests.bench.figures import Bench, Figure
from tests.bench.figures import keep as keep_figures
from tests.fuzz.attack import MOST_SECONDS, Result, attack_apart, joined, keep
from tests.fuzz.borders import BORDERS


def main() -> int:
    """Run all borders; status 1 where a fault was found or a border had no file to begin with."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--minutes", type=float, default=60.0, help="CPU minutes in all")
    asked.add_argument("--jobs", type=int, default=1, help="processes at a time")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="*", default=[b.name for b in BORDERS])
    asked.add_argument("--keep", type=Path, default=Path("out/fuzz"))
    options = asked.parse_args()
    seconds = 60.0 * options.minutes / len(options.only) / options.jobs
    begun = time.monotonic()
    parts: dict[str, list[Result]] = {name: [] for name in options.only}
    # A thread a job waits for its processes; each border in a fresh one, so that what it takes
    # of memory is its own.
    with ThreadPoolExecutor(options.jobs) as pool:
        work = {
            pool.submit(attack_apart, name, f"{options.seed}.{job}", seconds, 10**9): name
            for name in options.only
            for job in range(options.jobs)
        }
        for done in as_completed(work):
            name = work[done]
            parts[name].append(done.result())
            if len(parts[name]) == options.jobs:
                _print(joined(parts[name]), options.keep)
    every = [joined(results) for results in parts.values()]
    untried = [result.border for result in every if not result.tried]
    print(
        f"{'all':12} {sum(r.tried for r in every):8} files, {sum(r.refused for r in every):8} "
        f"refused, {sum(len(r.faults) for r in every)} faults, "
        f"{sum(r.cpu_seconds for r in every):.0f} CPU s, "
        f"at most {max(r.slowest_s for r in every):.1f} s and "
        f"{max(r.most_memory_kb for r in every) / 1000:.0f} MB; "
        f"{time.monotonic() - begun:.0f} s on {options.jobs} processes, seed {options.seed}, "
        f"Python {platform.python_version()}"
    )
    if not untried and len(every) == len(BORDERS):
        _keep_figures(every, options.minutes, options.jobs, options.seed)
    if untried:
        print(f"no file to begin with (BOTHFACES_REAL holds none): {', '.join(untried)}")
    return 1 if untried or any(result.faults for result in every) else 0


def _keep_figures(every: list[Result], minutes: float, jobs: int, seed: int) -> None:
    """Keep what a whole run found for PROOF.md."""
    tried, faults = sum(r.tried for r in every), sum(len(r.faults) for r in every)
    slowest, memory = max(r.slowest_s for r in every), max(r.most_memory_kb for r in every) / 1000
    names = ", ".join(border.name for border in BORDERS)
    keep_figures(
        Bench(
            "fuzz", "Damaged files at every border", f"good files of {names}, damaged at random",
            f"python -m tests.fuzz --minutes {minutes:g} --jobs {jobs} --seed {seed}",
            (
                Figure("damaged files read or refused in one sentence",
                       f"{tried - faults} of {tried}", "all", faults == 0),
                Figure("CPU time", f"{sum(r.cpu_seconds for r in every) / 60:.0f} min", "60 min",
                       sum(r.cpu_seconds for r in every) >= 3590),
                Figure("slowest file", f"{slowest:.1f} s", "10 s", slowest <= MOST_SECONDS),
                Figure("largest memory", f"{memory:.0f} MB", "2000 MB", memory <= 2000),
            ),
        )
    )  # fmt: skip


def _print(result: Result, folder: Path) -> None:
    print(
        f"{result.border:12} {result.tried:8} files, {result.refused:8} refused,"
        f" {len(result.faults)} faults, {result.cpu_seconds:.0f} CPU s,"
        f" slowest {result.slowest_s:.2f} s, {result.most_memory_kb / 1000:.0f} MB",
        flush=True,
    )
    for path in keep(result, folder):
        print(f"    {path}", flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
