"""Where the guides of the page's help lie: in a clone, or beside an installed package."""

import sysconfig
from pathlib import Path

# In the order in which a person wants them.
GUIDES = {
    "page": "On this page",
    "first-hour": "The first hour",
    "errands": "Errand by errand",
    "scale": "Scale from a photo",
    "solver": "How parts find their places",
    "install": "Installing",
    "reference": "Commands and files",
}


def find_guide(name: str) -> Path | None:
    """Return the Markdown file of a guide; None where it does not lie there.

    Looked for in the clone that this code runs from, and where a wheel puts its data. The name is
    looked up, never joined to a path unknown.
    """
    if name not in GUIDES:
        return None
    clone = Path(__file__).resolve().parents[2]
    installed = Path(sysconfig.get_path("data")) / "share" / "bothfaces"
    for root in (clone, installed):
        file = root / "docs" / f"{name}.md"
        if file.is_file():
            return file
    return None
