"""Where the sample set lies: in a clone, or beside an installed package."""

import sysconfig
from pathlib import Path


def find_samples() -> Path | None:
    """Return the folder of the sample set; None where there is none.

    Looked for in the current folder, in the clone that this code runs from, and where a wheel puts
    its data.
    """
    clone = Path(__file__).resolve().parents[2]
    installed = Path(sysconfig.get_path("data")) / "share" / "bothfaces"
    for root in (Path.cwd(), clone, installed):
        if (root / "sample_images" / "manifest.json").is_file():
            return root / "sample_images"
    return None
