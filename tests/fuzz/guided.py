"""``python -m tests.fuzz.guided BORDER --minutes N``: damage that is led by what code it reaches.

For this one the package ``atheris`` must be installed (it is no dependency; its wheels are for some
systems and Pythons only): M. Zalewski's way of fuzzing, through LLVM's libFuzzer. What fails is
kept in ``--keep`` under libFuzzer's own name.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["scanner"]):
    from tests.fuzz.attack import read_or_refuse
    from tests.fuzz.borders import BORDERS


def main() -> None:
    """Lead damage at one border; libFuzzer ends the process, with status 0 where nothing failed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("border", choices=[border.name for border in BORDERS])
    asked.add_argument("--minutes", type=float, default=5.0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--keep", type=Path, default=Path("out/fuzz"))
    options = asked.parse_args()
    border = next(border for border in BORDERS if border.name == options.border)
    options.keep.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="guided-") as place:
        good, work = Path(place) / "good", Path(place) / "work"
        good.mkdir()
        work.mkdir()
        for n, content in enumerate(border.seeds()):
            (good / str(n)).write_bytes(content)
        limits = [
            f"-max_total_time={60 * options.minutes:.0f}",
            f"-seed={options.seed}",
            f"-artifact_prefix={options.keep}/{border.name}-",
            "-timeout=10",
            "-rss_limit_mb=2048",
            "-max_len=20000",
        ]
        atheris.Setup(
            [sys.argv[0], str(good), *limits], lambda data: read_or_refuse(border, data, work)
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main()
