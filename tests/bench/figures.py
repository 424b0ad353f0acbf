"""Measured figures as values: what is claimed, on what data, with its interval, by which command.

A bench keeps its figures under ``out/bench/figures``; ``tests.bench.proof`` takes them from there
into PROOF.md and README.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

NEW = Path("out/bench/figures")
# Bootstrap over boards (Efron and Tibshirani, An Introduction to the Bootstrap, 1993).
_DRAWS = 2000


@dataclass(frozen=True)
class Figure:
    """One claim: what, the figure with its interval, and the bar it is held against.

    ``by_chance``: not met, but the bar lies inside the figure's own interval.
    """

    claim: str
    figure: str
    bar: str = ""
    met: bool | None = None
    by_chance: bool = False

    @property
    def verdict(self) -> str:
        """Return yes, no or within chance; empty where there is no bar."""
        if self.met is None:
            return ""
        return "yes" if self.met else ("within chance" if self.by_chance else "**no**")


@dataclass(frozen=True)
class Bench:
    """The figures of one run of one bench, and where they come from."""

    name: str
    title: str
    data: str
    command: str
    figures: tuple[Figure, ...]
    commit: str = ""
    date: str = ""
    machine: str = ""


def keep(bench: Bench) -> Path:
    """Write what a run measured, with commit, date and machine; return the file."""
    NEW.mkdir(parents=True, exist_ok=True)
    signed = asdict(bench) | {"commit": _commit(), "date": _today(), "machine": _machine()}
    path = NEW / f"{bench.name}.json"
    path.write_text(json.dumps(signed, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return path


def read(path: Path) -> Bench:
    """Return the figures of a file that ``keep`` wrote."""
    record = json.loads(path.read_text(encoding="utf-8"))
    figures = tuple(Figure(**row) for row in record.pop("figures"))
    return Bench(figures=figures, **record)


def share_interval(hits: int, of: int) -> tuple[float, float]:
    """Return Wilson's 95 % interval of a share (E. B. Wilson, 1927)."""
    if of == 0:
        return 0.0, 1.0
    z, p = 1.96, hits / of
    middle = (p + z * z / (2 * of)) / (1 + z * z / of)
    half = z * np.sqrt(p * (1 - p) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return float(middle - half), float(middle + half)


def percent_text(percent: float, digits: int = 0) -> str:
    """Return a per cent with so many digits behind the point, or as many more as it takes.

    It is never rounded up to a whole per cent that it does not reach: bars are whole per cents, and
    one that was missed would read as met.
    """
    enough = next(n for n in count(digits) if int(round(percent, n)) == int(percent))
    return f"{percent:.{enough}f}"


def share_text(hits: int, of: int) -> str:
    """Return ``40 of 42 (95 %; 84 to 99)``, the share as `percent_text` has it."""
    low, high = share_interval(hits, of)
    percent = percent_text(100 * hits / max(of, 1))
    return f"{hits} of {of} ({percent} %; {100 * low:.0f} to {100 * high:.0f})"


def mean_text(values: list[float], digits: int = 2) -> str:
    """Return a mean over boards with its bootstrap 95 % interval: ``1.95 (1.4 to 2.6)``."""
    found = np.asarray(values, float)
    draws = np.random.default_rng(0).choice(found, (_DRAWS, len(found))).mean(axis=1)
    low, high = np.quantile(draws, [0.025, 0.975])
    return f"{found.mean():.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def ratio_interval(table: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return a share of sums and its bootstrap 95 % interval over boards.

    ``table`` (B, 4): of each board a part and its whole, and another's part and whole; the share is
    that of the two sums' own shares.
    """
    picked = np.random.default_rng(0).integers(0, len(table), (_DRAWS, len(table)))
    sums = np.concatenate([table.sum(axis=0)[None], table[picked].sum(axis=1)])
    above, below = sums[:, 0] * sums[:, 3], sums[:, 1] * sums[:, 2]
    shares = np.divide(above, below, out=np.zeros_like(above), where=below > 0)
    low, high = np.quantile(shares[1:], [0.025, 0.975])
    return float(shares[0]), float(low), float(high)


def _commit() -> str:
    # A copy of the sources without their history is told its commit.
    if told := os.environ.get("BOTHFACES_COMMIT"):
        return told
    asked = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    )
    return asked.stdout.strip() or "unknown"


def _today() -> str:
    return datetime.now(tz=UTC).strftime("%Y-%m-%d")


def _machine() -> str:
    return f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}"
