"""``python -m tests.fuzz --minutes 60``: attack every border and print what became of it."""

import argparse
from pathlib import Path

from tests.fuzz.attack import attack_apart, keep
from tests.fuzz.borders import BORDERS


def main() -> int:
    """Run all borders, one after the other; status 1 where a fault was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--minutes", type=float, default=60.0, help="CPU minutes in all")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="*", default=[b.name for b in BORDERS])
    asked.add_argument("--keep", type=Path, default=Path("out/fuzz"))
    options = asked.parse_args()
    seconds = 60.0 * options.minutes / len(options.only)
    faults = 0
    for name in options.only:
        result = attack_apart(name, options.seed, seconds, 10**9)
        faults += len(result.faults)
        print(
            f"{name:12} {result.tried:7} files, {result.refused:7} refused,"
            f" {len(result.faults)} faults, {result.cpu_seconds:.0f} CPU s",
            flush=True,
        )
        for path in keep(result, options.keep):
            print(f"    {path}", flush=True)
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
