"""Render the sample set: ``python -m tests.render.samples [--out FOLDER] [--only B04] [--small]``.

Six boards, both faces, one phone, one printed strip. The pictures are committed once; running this
again gives the same pictures as long as the renderer is unchanged.
"""

import argparse
import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.render.develop import write_jpeg
from tests.render.photo import render_photo, truth_of
from tests.render.rules import Ruler
from tests.render.scene import (
    BoardSpec,
    PhotoSpec,
    RuleKind,
    StripSpec,
    draw_board,
    draw_phone,
    draw_photo,
    draw_rule,
)

FOLDER = Path(__file__).resolve().parents[2] / "sample_images"
QUALITY = 76  # with 4 or 5 megapixels for the busy floors: the whole set stays under 12 MB
_PHONE = draw_phone(2602)


@dataclass(frozen=True)
class Shot:
    """One photograph of the set: its seed, face and how the phone was held."""

    name: str
    seed: int
    face: int
    orientation: int


@dataclass(frozen=True)
class Sample:
    """One board of the set and how it was photographed."""

    id: str
    seed: int
    species: str
    length_mm: float
    thickness: str  # as its owner would type it
    rule: RuleKind
    floor: str
    light: str
    why: str
    shots: tuple[Shot, ...]
    size: str = "full"  # busy floors and the set of four get fewer pixels: they take many bytes


SAMPLES = (
    Sample(
        "B01", 303, "white ash", 2440, "4/4", "strip", "concrete", "shade",
        "8 ft, the strip beside it; wane on one edge, knots",
        (Shot("ash-01-face1", 1, 1, 1), Shot("ash-01-face2", 2, 2, 1)),
    ),
    Sample(
        "B02", 304, "white ash", 2130, "27 mm", "strip", "asphalt", "sun",
        "7 ft in hard sun; wide, crooked, checked ends; one photo taken upside down",
        (Shot("ash-02-face1", 3, 1, 3), Shot("ash-02-face2", 4, 2, 1)), "middling",
    ),
    Sample(
        "B03", 301, "white ash", 1830, "4/4", "plain", "concrete", "indoor",
        "6 ft with a plain 36 in steel rule and the board's taped length; photos held upright",
        (Shot("ash-03-face1", 5, 1, 6), Shot("ash-03-face2", 6, 2, 8)),
    ),
    Sample(
        "B04", 318, "walnut", 1800, "4/4", "strip", "plywood", "indoor",
        "two photos of each face; a hollow knot that shows as a knot on one face only",
        (
            Shot("walnut-01-face1", 7, 1, 1),
            Shot("walnut-01-face1-more", 8, 1, 1),
            Shot("walnut-01-face2", 9, 2, 1),
            Shot("walnut-01-face2-more", 10, 2, 3),
        ), "large",
    ),
    Sample(
        "B05", 315, "walnut", 1520, "1 1/16 in", "plain", "asphalt", "shade",
        "5 ft with the plain rule; sapwood and a little wane",
        (Shot("walnut-02-face1", 11, 1, 1), Shot("walnut-02-face2", 12, 2, 3)), "middling",
    ),
    Sample(
        "B06", 323, "hard maple", 1370, "4/4", "plain", "grass", "sun",
        "4 1/2 ft of a pale, close-grained wood on grass in the sun",
        (Shot("maple-01-face1", 13, 1, 1), Shot("maple-01-face2", 14, 2, 6)), "middling",
    ),
)  # fmt: skip


def board_of(sample: Sample) -> BoardSpec:
    """Return the board of a sample."""
    return draw_board(sample.seed, species=sample.species, length_mm=sample.length_mm)


def shop_strip() -> StripSpec:
    """Return the one strip that was printed, glued on a batten and taped."""
    longest = draw_board(303, species="white ash", length_mm=2440)
    return draw_rule(77, longest, "strip")


def photos_of(sample: Sample, size: str = "") -> list[tuple[Shot, PhotoSpec]]:
    """Return the photographs of a sample: one scene, one lens."""
    board = board_of(sample)
    rule = shop_strip() if sample.rule == "strip" else draw_rule(sample.seed, board, "plain")
    taken: list[tuple[Shot, PhotoSpec]] = []
    for shot in sample.shots:
        same_face = [p for s, p in taken if s.face == shot.face]
        before = same_face or [p for _, p in taken]
        photo = draw_photo(
            shot.seed,
            board,
            rule=sample.rule,
            face=shot.face,
            size=size or sample.size,  # type: ignore[arg-type]
            floor=sample.floor,
            light=sample.light,
            orientation=shot.orientation,
            strip=rule,
            phone=_PHONE,
            like=before[0] if before else None,
        )
        taken.append((shot, photo))
    return taken


def taped_mm(sample: Sample, true_mm: float) -> float:
    """Return the board's length as its owner read it off a tape, to the millimetre."""
    error = np.random.default_rng((sample.seed, 97)).normal(0, 0.7)
    return float(round(true_mm + float(error)))


def entry(sample: Sample, size: str = "") -> dict[str, Any]:
    """Return a board's part of the manifest: what its owner knows, then the truth."""
    board, photos = board_of(sample), photos_of(sample, size)
    rule = photos[0][1].rule
    truths = {shot.name: truth_of(board, photo) for shot, photo in photos}
    true_board = next(iter(truths.values())).board
    taped = taped_mm(sample, true_board.length) if sample.rule == "plain" else None
    if sample.rule == "strip":
        scan = {"batten": f"{rule.batten_mm:g} mm", "strip_taped": f"{rule.taped_mm:g} mm"}
    else:
        scan = {"rule": "36in x 28mm x 1mm", "taped": f"{taped:g} mm"}
    return {
        "id": sample.id,
        "species": sample.species,
        "thickness": sample.thickness,
        "why": sample.why,
        "rule": {
            "kind": sample.rule,
            "length_mm": rule.length_mm,
            "width_mm": rule.width_mm,
            "thickness_mm": rule.thickness_mm,
            "batten_mm": rule.batten_mm,
        },
        "strip_taped_mm": rule.taped_mm,
        "taped_mm": taped,
        "photos": {
            str(face): [f"{s.name}.jpg" for s in sample.shots if s.face == face] for face in (1, 2)
        },
        "scan": scan,
        "truth": {
            "strip_true_mm": Ruler(rule).true_length if sample.rule == "strip" else None,
            "turned": next(p.turned for s, p in photos if s.face == 2),
            "board": asdict(true_board),
            "photos": {f"{name}.jpg": asdict(t.photo) for name, t in truths.items()},
        },
    }


def main() -> None:
    """Render the pictures and write the manifest beside them."""
    parser = argparse.ArgumentParser(description="Render the sample set.")
    parser.add_argument("--out", type=Path, default=FOLDER)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--size", default="", choices=("full", "large", "medium", "small"))
    parser.add_argument("--manifest", action="store_true", help="write the manifest alone")
    arguments = parser.parse_args()
    arguments.out.mkdir(parents=True, exist_ok=True)
    for sample in SAMPLES:
        if arguments.manifest or (arguments.only and sample.id not in arguments.only):
            continue
        board = board_of(sample)
        for shot, photo in photos_of(sample, arguments.size):
            rendered = render_photo(board, photo)
            path = arguments.out / f"{shot.name}.jpg"
            write_jpeg(rendered.pixels, photo, path, quality=QUALITY)
            print(f"{path.name}: {path.stat().st_size / 1e6:.2f} MB", flush=True)
    manifest = {
        "format": "sample set",
        "version": 1,
        "note": "Rendered pictures, not photographs. Lengths in mm, pixels of the upright picture;"
        " frames as in DEVELOPERS.md. 'truth' is for tests; the program reads the rest.",
        "boards": [entry(sample, arguments.size) for sample in SAMPLES],
    }
    text = json.dumps(manifest, separators=(",", ":"))
    (arguments.out / "manifest.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
