"""The pictures that the learned finder is trained on: faces along x at one scale, with marks.

A folder of training faces holds JPEGs and `LINE_FILE`, one JSON object a line: ``image``,
``board``, ``source`` ("real" or "rendered"), ``outline`` [[x, y] px] and ``flaws``, each with
``kind``, ``sound`` (of a knot) and ``polygon`` or, where only that is known, ``box``.

``python -m scanner.vision.training.faces WOOD FOLDER`` makes one from the training boards of the
annotated sawn boards in WOOD (its README.md says what they are). Validation boards never go in.
"""

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from scanner.vision.flat_face import read_flat

# The scale that `scanner.vision.flaws.surface` works at; training must not differ from use.
MM_PER_PX = 0.5
LINE_FILE = "faces.jsonl"
_QUALITY = 93


@dataclass(frozen=True, slots=True, eq=False)
class TrainingFace:
    """One picture with its marks; pixels (H, W, 3) uint8 RGB, points in its pixels.

    ``widened``: its cracks are outlined as they lie in the wood, thinner than a pixel, and show a
    pixel wider to either side than they are marked.
    """

    name: str
    board: str
    source: str
    pixels: NDArray[np.uint8]
    outline: NDArray[np.float64]
    flaws: tuple[dict[str, Any], ...]
    widened: bool = False


def read_faces(folder: Path) -> Iterator[TrainingFace]:
    """Yield the training faces of a folder."""
    for line in (folder / LINE_FILE).read_text(encoding="utf-8").splitlines():
        note = json.loads(line)
        pixels = _read(folder / note["image"])
        yield TrainingFace(
            name=note["image"],
            board=note["board"],
            source=note["source"],
            pixels=np.ascontiguousarray(pixels[..., ::-1], dtype=np.uint8),
            outline=np.asarray(note["outline"], dtype=np.float64),
            flaws=tuple(note["flaws"]),
            widened=bool(note.get("widened", False)),
        )


def _read(path: Path) -> NDArray[np.uint8]:
    """Return BGR pixels."""
    pixels = cv2.imread(str(path))
    if pixels is None:
        raise ValueError(f"{path} is not there")
    return np.asarray(pixels, dtype=np.uint8)


def _marks(note: dict[str, Any], ratio: float) -> list[dict[str, Any]]:
    """Return the flaws of one annotated picture, turned along x and scaled."""
    width = note["width"]

    def moved(points: NDArray[np.float64]) -> list[list[float]]:
        # np.rot90 of the picture: x along is the old y, y is counted from the old right side.
        turned = np.column_stack([points[:, 1], width - 1 - points[:, 0]])
        turned = (turned + 0.5) * ratio - 0.5
        return [[round(float(v), 1) for v in point] for point in turned]

    marks = []
    for flaw in note["flaws"]:
        kind = flaw["kind"]
        mark: dict[str, Any] = {"kind": kind, "sound": None}
        if kind.startswith("knot_"):
            mark |= {"kind": "knot", "sound": kind == "knot_sound"}
        elif kind == "other" and flaw.get("seam"):
            mark["kind"] = "seam"
        if len(flaw.get("polygon", ())) >= 3:
            mark["polygon"] = moved(np.asarray(flaw["polygon"], dtype=np.float64))
        else:
            x0, y0, x1, y1 = flaw["box"]
            (a, b), (c, d) = moved(np.array([[x0, y1], [x1, y0]], dtype=np.float64))
            mark["box"] = [min(a, c), min(b, d), max(a, c), max(b, d)]
        marks.append(mark)
    return marks


def convert(wood: Path, folder: Path) -> int:
    """Write the training boards of the annotated wood as training faces; return how many."""
    folder.mkdir(parents=True, exist_ok=True)
    notes = []
    for line in (wood / "annotations.jsonl").read_text(encoding="utf-8").splitlines():
        note = json.loads(line)
        if note["split"] != "train":
            continue
        pixels = _read(wood / note["image"])
        turned = np.ascontiguousarray(np.rot90(pixels))
        ratio = note["mm_per_px"] / MM_PER_PX
        size = (round(turned.shape[1] * ratio), round(turned.shape[0] * ratio))
        how = cv2.INTER_AREA if ratio < 1 else cv2.INTER_CUBIC
        small = cv2.resize(turned, size, interpolation=how)
        name = Path(note["image"]).with_suffix(".jpg").name
        cv2.imwrite(str(folder / name), small, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
        face = read_flat(np.ascontiguousarray(small[..., ::-1]), MM_PER_PX, along="x")
        ring = np.asarray(face.outline.exterior.coords) / MM_PER_PX
        notes.append(
            {
                "image": name,
                "board": note["board"],
                "source": "real",
                "set": note["set"],
                "outline": [[round(float(v), 1) for v in point] for point in ring],
                "flaws": _marks(note, ratio),
            }
        )
    text = "".join(json.dumps(note) + "\n" for note in notes)
    (folder / LINE_FILE).write_text(text, encoding="utf-8")
    return len(notes)


def main() -> None:
    """Make the training faces of the real boards."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("wood", type=Path)
    parser.add_argument("folder", type=Path)
    chosen = parser.parse_args()
    print(f"{convert(chosen.wood, chosen.folder)} faces in {chosen.folder}")


if __name__ == "__main__":
    main()
