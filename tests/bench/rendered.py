"""The scale on rendered photos, through the whole road: finding, refining, fitting, outlining.

``python -m tests.bench.rendered``: 8 boards for daily use, ``--boards 20`` (40 photos and more)
for the record. Photos are rendered once (.cache/render), results kept per code in
``out/bench/scale``, one line a board, so that a run that was broken off goes on. Each board is
scanned from one photo of face 1, from two from different sides, and by a plain rule with the
board's length taped. Seeds 74000 and up belong to this bench; work on ``--development`` seeds, at
``--size medium`` (3 megapixels) where minutes count: the bars are for ``full`` ones.
"""

from __future__ import annotations

import argparse
import json
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Literal, get_args

import cv2
import numpy as np

from scanner.board.measured import Measured
from scanner.errors import ScannerError
from scanner.vision.photo import read_photo
from scanner.vision.scan import scan_face
from scanner.vision.setup import RuleSize, Setup
from tests.bench.scale import DEVELOPMENT, OUT, code_hash, line
from tests.render.cache import cached_photo
from tests.render.scene import draw_board, draw_phone, draw_photo, draw_rule

Size = Literal["full", "large", "middling", "medium", "small"]
HELD_OUT = 74000
WAYS = ("strip", "two photos", "rule + taped")
# 1.3 times the bars for projected marks: finding, refining and outlining come in (95 %, mm).
BARS = {"strip": (6.5, 3.0), "two photos": (3.0, 1.04), "rule + taped": (3.9, 6.5)}
BRACKETS = {"strip": (5.8, 2.2), "two photos": (2.8, 0.8), "rule + taped": (3.2, 3.6)}
# The second photo of a board draws its camera and light from a seed of its own.
_OTHER_SEED = 500_000
_TAPE_SD_MM = 1.5


def _photos(seed: int, way: str, size: Size) -> tuple[list[Path], Setup, float, list[float]]:
    """Return photos, what the person typed, true length and widths."""
    board = draw_board(seed)
    kind = "plain" if way == "rule + taped" else "strip"
    rule, phone = draw_rule(seed, board, kind), draw_phone(seed)
    first = draw_photo(seed, board, rule=kind, face=1, size=size, strip=rule, phone=phone)
    specs = [first]
    if way == "two photos":
        other = seed + _OTHER_SEED
        specs.append(
            draw_photo(other, board, face=1, size=size, strip=rule, phone=phone, like=first)
        )
    rendered = [cached_photo(board, spec) for spec in specs]
    truth = rendered[0][1].board
    random = np.random.default_rng((seed, 99))
    taped = Measured(truth.length + random.normal(0, _TAPE_SD_MM), 2 * _TAPE_SD_MM)
    setup = Setup(
        thickness=Measured(round(truth.thickness), 2.0),
        rule=RuleSize(rule.length_mm, rule.width_mm, rule.thickness_mm)
        if kind == "plain"
        else None,
        batten_mm=rule.batten_mm if kind == "strip" else None,
        strip_taped=Measured(rule.taped_mm, 2.0) if rule.taped_mm else None,
        taped=taped if kind == "plain" else None,
    )
    return [path for path, _ in rendered], setup, truth.length, [width for _, width in truth.widths]


def scan_one(seed: int, way: str, size: Size) -> str:
    """Return a line of JSON: errors and U of length and widths; runs in another process."""
    cv2.setNumThreads(1)
    paths, setup, length, widths = _photos(seed, way, size)
    row: dict[str, object] = {"seed": seed}
    try:
        scan = scan_face(tuple(read_photo(path) for path in paths), setup)
    except ScannerError as refusal:
        return json.dumps({**row, "refused": str(refusal)})
    found = scan.reading
    row["length"] = [[round(found.length.value_mm - length, 2), found.length.u_mm]]
    row["width"] = [
        [round(station.width.value_mm - true, 2), station.width.u_mm]
        for station, true in zip(found.widths, widths, strict=False)
    ]
    return json.dumps(row)


def _code() -> str:
    root = Path(__file__).resolve().parents[2]
    return code_hash((*(root / "scanner" / "vision").rglob("*.py"), Path(__file__).resolve()))


def run_way(way: str, size: Size, seeds: range, pool: ProcessPoolExecutor, store: Path) -> None:
    """Scan what is not stored yet, and print the rows of one way."""
    known = {}
    if store.exists():
        known = {row["seed"]: row for row in map(json.loads, store.read_text().splitlines())}
    missing = [seed for seed in seeds if seed not in known]
    for text in pool.map(partial(scan_one, way=way, size=size), missing):
        with store.open("a") as file:
            file.write(text + "\n")
        row = json.loads(text)
        known[row["seed"]] = row
    rows = [known[seed] for seed in seeds]
    good = [row for row in rows if "refused" not in row]
    print(f"{way}: {len(good)} boards, {len(rows) - len(good)} refused", flush=True)
    for place, what in enumerate(("length", "width")):
        if good:
            bars = (BARS[way][place], BRACKETS[way][place])
            print(line(what, [row[what] for row in good], bars), flush=True)
    for row in rows:
        if "refused" in row:
            print(f"  {row['seed']} refused: {row['refused']}")
        elif any(abs(error) > 3 * u for error, u in row["length"] + row["width"]):
            print(f"  {row['seed']}: OVER 3 U")


def main() -> None:
    """Run the bench as the arguments say."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--boards", type=int, default=8)
    arguments.add_argument("--ways", default=";".join(WAYS), help="separated by ;")
    arguments.add_argument("--development", action="store_true", help="seeds to work on")
    arguments.add_argument("--size", default="full", choices=get_args(Size))
    arguments.add_argument("--workers", type=int, default=2)
    chosen = arguments.parse_args()
    first = DEVELOPMENT if chosen.development else HELD_OUT
    folder = OUT / f"rendered-{_code()}"
    folder.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(chosen.workers) as pool:
        for way in chosen.ways.split(";"):
            seeds = range(first, first + chosen.boards)
            store = folder / f"{way.replace(' ', '-')}--{chosen.size}.jsonl"
            run_way(way, chosen.size, seeds, pool, store)


if __name__ == "__main__":
    main()
