"""Flat faces of the third renderer as training pictures for the learned finder.

``python -m tests.bench.learn_third FOLDER --seeds 1-200 [--jobs 2]`` writes JPEGs at 0.5 mm per
pixel, the board along x, and ``faces.jsonl`` in the form that ``scanner.vision.training.faces``
reads. Seeds 1-4999 are to learn from, 5000-5999 to choose by (`tests.bench.flaws_third`). A folder
that holds such lines already is refused: its faces may be of another state of the renderer, and
those drawn again would teach twice.
"""

import argparse
import json
from functools import partial
from pathlib import Path
from typing import Any

import cv2

from scanner.vision.training.faces import LINE_FILE
from tests.bench.many import in_order
from tests.render_three.face import draw_face

_QUALITY = 93


def _as_taught(flaw: dict[str, Any]) -> dict[str, Any]:
    """Return a flaw; cracks inside a knot teach nothing: marks on real wood leave them out."""
    return flaw | {"faint": True} if flaw.get("look") == "in_knot" else flaw


def write_one(seed: int, folder: Path) -> dict[str, Any]:
    """Draw the face of a seed into the folder; return its line of `LINE_FILE`."""
    cv2.setNumThreads(1)
    face = draw_face(seed)
    name = f"third-{seed}.jpg"
    cv2.imwrite(str(folder / name), face.pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return {
        "image": name,
        "board": f"third-{seed}",
        "source": "rendered",
        # Cracks are outlined as they lie, thinner than they show.
        "widened": True,
        "species": face.species,
        "outline": face.outline,
        "flaws": [_as_taught(flaw) for flaw in face.flaws],
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seeds", default="1-200", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    chosen.folder.mkdir(parents=True, exist_ok=True)
    file = chosen.folder / LINE_FILE
    if file.exists():
        parser.error(f"{file} is of an earlier run: give another folder")
    with file.open("x", encoding="utf-8") as lines:
        work = partial(write_one, folder=chosen.folder)
        for note in in_order(work, range(first, last + 1), chosen.jobs):
            lines.write(json.dumps(note) + "\n")
            lines.flush()


if __name__ == "__main__":
    main()
