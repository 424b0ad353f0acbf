"""Which lots the page may open: the one it was started with, those of its folder, the sample."""

from __future__ import annotations

import os
from pathlib import Path

# The launcher tells the page through these; both run in one process.
HOME_VARIABLE = "BOTHFACES_HOME"
LOT_VARIABLE = "BOTHFACES_LOT"
_SAMPLE_RESULTS = Path("out") / "demo"
# The name that the command `demo` opens the page with.
_SAMPLE_NAME = "demo"


def home() -> Path:
    """Return the folder the page works in."""
    return Path(os.environ.get(HOME_VARIABLE) or Path.cwd())


def started_with() -> Path | None:
    """Return the lot file the page was started with."""
    named = os.environ.get(LOT_VARIABLE)
    return Path(named) if named else None


def sample_results() -> Path:
    """Return the folder where the demo leaves its results."""
    return home() / _SAMPLE_RESULTS


def sample_lot() -> Path:
    """Return the lot file that the sample opens in."""
    return sample_results() / f"{_SAMPLE_NAME}.lot"


def stock_folder() -> Path:
    """Return the folder of left-overs, shared by all lots of the page's folder."""
    return home() / "stock"


def known_lots() -> dict[str, Path]:
    """Return the lots the page may open, by the name its address uses; looked up, never joined."""
    paths = sorted(home().glob("*.lot"))
    if sample_lot().is_file():
        paths.append(sample_lot())
    if (first := started_with()) is not None:
        paths.insert(0, first)
    lots: dict[str, Path] = {}
    for path in paths:
        if path.resolve() not in {known.resolve() for known in lots.values()}:
            lots.setdefault(path.stem, path)
    return lots
