"""Other people's pictures of rules, changed as phones and people change pictures.

``python -m tests.bench.real_rules --variants 6``: each picture of `BOTHFACES_REAL`/photos/rules
shrunk, turned, warped, darkened, blurred and saved again. A picture is *read* where the distance
between its graduations comes out within U, *wrong* where it does not, *refused* where no scale is
given (right where there is no rule, or where another length than its own is told). Variant 0 is
the picture as it is. Answers are kept in ``out/bench/scale`` per code, so that a run that was
broken off goes on; the table at the end counts them, with the median U of what was read.
"""

from __future__ import annotations

import argparse
import json
import os
from pathlib import Path

import cv2
import numpy as np

from scanner.board.measured import Measured
from scanner.errors import PhotoError
from scanner.vision.photos.photo import read_photo
from scanner.vision.photos.picture import Photo
from scanner.vision.scale import fit_scale
from scanner.vision.setup import RuleSize, Setup
from tests.bench.scale import OUT, code_hash

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[2] / ".." / "shared"))
RULES = REAL / "photos" / "rules"
# What is told of each: its true length first, then another rule's.
TOLD = {
    "steel_rule_500mm_on_oak_floor.jpg": (500.0, 914.4),
    "printed_rule_20cm_8in_tilted_yellow.jpg": (200.0, 304.8),
    "printed_rule_19cm_green.jpg": (200.0, 304.8),
    "gsa_scale_card_on_gravel.jpg": (100.0, 304.8),
    "museum_rule_butterfly_0deg.jpg": (150.0, 304.8),
    "no_rule_saw_and_tools.jpg": (304.8, 914.4),
}


def changed(
    pixels: np.ndarray, marks: np.ndarray, variant: int, seed: int
) -> tuple[np.ndarray, np.ndarray]:
    """Return a picture and its marks (N, 2) px as somebody might have sent them."""
    if variant == 0:
        return pixels, marks
    random = np.random.default_rng([seed, variant])
    height, width = pixels.shape[:2]
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
    angle = random.uniform(-np.pi, np.pi) if variant % 2 else random.uniform(-0.2, 0.2)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    moved = corners * (1 + random.uniform(-0.12, 0.12, (4, 2)))
    moved = (moved - moved.mean(axis=0)) @ turn.T * random.uniform(0.5, 1.0)
    moved -= moved.min(axis=0)
    size = np.ceil(moved.max(axis=0)).astype(int)
    move = cv2.getPerspectiveTransform(corners, moved.astype(np.float32))
    # Shrinking would let fine lines flicker: blur first, as a smaller picture is.
    soft = cv2.GaussianBlur(pixels, (0, 0), random.uniform(0.4, 1.1))
    out = cv2.warpPerspective(
        soft, move, (int(size[0]), int(size[1])), borderMode=cv2.BORDER_REFLECT
    )
    light = random.uniform(0.45, 1.15)
    out = np.clip(out * light + random.normal(0, random.uniform(0.5, 4), out.shape), 0, 255)
    _, coded = cv2.imencode(
        ".jpg", out.astype(np.uint8)[..., ::-1], [1, int(random.integers(70, 95))]
    )
    back = np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1])
    if len(marks) == 0:
        return back, marks
    return back, cv2.perspectiveTransform(marks[None].astype(np.float64), move)[0]


def answer(photo: Photo, marks: np.ndarray, marks_mm: np.ndarray, length_mm: float) -> str:
    """Return what comes of a picture when a rule of a length is told."""
    setup = Setup(Measured(0.0, 0.2), rule=RuleSize(length_mm))
    try:
        fit = fit_scale((photo,), setup, however_near=True)
    except PhotoError as error:
        return "refused" if "No reference" in str(error) else f"refused: {error.what[-60:]}"
    if len(marks) == 0:
        return "wrong: there is no rule"
    seen = fit.face_from_photo(0, marks)
    error = float(np.linalg.norm(seen[-1] - seen[0])) - abs(marks_mm[-1] - marks_mm[0])
    try:
        u = fit.u_between(seen[0], seen[-1], sd_p_px=1.5, sd_q_px=1.5)
    except PhotoError as error_of_u:
        return f"refused: {error_of_u.what[-60:]}"
    return f"{'read' if abs(error) <= u else 'wrong'}: {error:+.1f} mm, U {u:.1f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--variants", type=int, default=6)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=8300)
    parser.add_argument("--only", default="")
    chosen = parser.parse_args()
    pictures = json.loads((RULES / "truth.json").read_text(encoding="utf-8"))["pictures"]
    root = Path(__file__).resolve().parents[2]
    code = code_hash((*(root / "scanner" / "vision").rglob("*.py"), Path(__file__).resolve()))
    store = OUT / f"real-rules-{code}.jsonl"
    store.parent.mkdir(parents=True, exist_ok=True)
    known = {}
    if store.exists():
        known = {tuple(key): said for key, said in map(json.loads, store.read_text().splitlines())}
    answers: dict[str, list[str]] = {}
    for index, (name, told) in enumerate(TOLD.items()):
        if chosen.only not in name:
            continue
        lines = next(one for one in pictures if one["file"] == name).get("graduations_px", {})
        column = next(iter(lines.values()), {})
        numbers = sorted(column, key=int)
        marks = np.array([column[number] for number in numbers], dtype=np.float64).reshape(-1, 2)
        marks_mm = np.array([10.0 * int(number) for number in numbers])
        whole = read_photo(RULES / name).pixels
        for variant in range(chosen.first, chosen.variants):
            pixels, moved = changed(whole, marks, variant, chosen.seed + index)
            photo = Photo(name, pixels, "0" * 64, None, "", False, is_cropped=True)
            for length in told:
                key = (name, chosen.seed, variant, length)
                if key not in known:
                    known[key] = answer(photo, moved, marks_mm, length)
                    with store.open("a") as file:
                        file.write(json.dumps([key, known[key]]) + "\n")
                row = f"{name[:28]} told {'rightly' if length == told[0] else 'wrongly'}"
                answers.setdefault(row, []).append(known[key])
                print(f"{name[:28]} {variant} told {length:.0f}: {known[key]}", flush=True)
    print_table(answers)


def print_table(answers: dict[str, list[str]]) -> None:
    """Print how many pictures of each rule were read, read wrongly and refused."""
    print(f"{'':42s} read   median U  wrong  refused")
    for row, said in answers.items():
        kinds = [one.split(":")[0] for one in said]
        us = [float(one.rsplit(" ", 1)[1]) for one in said if one.startswith("read")]
        u = f"{np.median(us):5.1f} mm" if us else "       -"
        print(
            f"{row:42s} {kinds.count('read'):4d}   {u}  {kinds.count('wrong'):5d}  "
            f"{kinds.count('refused'):7d}",
            flush=True,
        )


if __name__ == "__main__":
    main()
