"""What looking at the wood costs: flaws, grain and registration of one face, by its area.

``taskset -c 0,1 python -m tests.bench.wood_speed`` on rendered faces, each repeated along its
length to 4, 8 and 12 ft: seconds on the clock and of the processor, memory at its highest. The bar
is 3 s on two cores and 1 GB for one 8 ft face.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time

import cv2
import numpy as np
from shapely.geometry import box

from scanner.board.board import Station
from scanner.board.join import join_faces
from scanner.board.measured import Measured
from scanner.board.reading import STATION_SHARES, FaceReading
from scanner.errors import BoardError
from scanner.vision.flaws import see_wood
from scanner.vision.photos.picture import FacePicture
from scanner.vision.turn_over import seen_through
from tests.bench.faces import flat_face

_FOOT_MM = 304.8
_WIDTH_MM = 200.0
_BORDER_MM = 40.0


def long_face(seed: int, side: int, length_mm: float) -> tuple[FacePicture, tuple[float, float]]:
    """Return the wood of a rendered face laid end to end, ``_WIDTH_MM`` wide, and its size."""
    face = flat_face(seed, side)
    mm = face.picture.mm_per_px
    x0, y0, x1, y1 = face.outline.buffer(-6).bounds
    wood = face.picture.pixels[int(y0 / mm) : int(y1 / mm), int(x0 / mm) : int(x1 / mm)]
    size = round(wood.shape[1]), round(_WIDTH_MM / mm)
    wood = cv2.resize(wood, size, interpolation=cv2.INTER_AREA)
    columns, border = round(length_mm / mm), round(_BORDER_MM / mm)
    # Every other piece is mirrored, so that no seam shows.
    pieces = [wood, wood[:, ::-1]] * (1 + columns // (2 * wood.shape[1]))
    whole = np.concatenate(pieces, axis=1)[:, :columns]
    around = ((border, border), (border, border), (0, 0))
    pixels = np.pad(whole, around, constant_values=90)
    seen = np.ones(pixels.shape[:2], bool)
    picture = FacePicture(np.ascontiguousarray(pixels), mm, (0.0, 0.0), 0.0006, 0.5, seen)
    return picture, (columns * mm, size[1] * mm)


def reading(wood, size_mm: tuple[float, float]) -> FaceReading:
    long, wide = size_mm
    widths = tuple(Station(share * long, Measured(wide, 1.0)) for share in STATION_SHARES)
    return FaceReading(
        outline=box(0, 0, long, wide),
        flaws=wood.flaws,
        length=Measured(long, 2.0),
        widths=widths,
        crook_mm=0.0,
        outline_u_mm=0.5,
        sapwood=wood.sapwood,
    )


def measure(feet: float) -> dict[str, float]:
    """Return seconds and memory of one face and of laying it over another."""
    cv2.setNumThreads(len(os.sched_getaffinity(0)))
    length = feet * _FOOT_MM
    picture, size = long_face(3100, 1, length)
    outline = box(_BORDER_MM, _BORDER_MM, _BORDER_MM + size[0], _BORDER_MM + size[1])
    # The network is read once a process.
    small = long_face(3100, 1, 200.0)
    see_wood(small[0], box(_BORDER_MM, _BORDER_MM, _BORDER_MM + 200, _BORDER_MM + size[1]))
    times = []
    for _ in range(3):
        start = time.perf_counter(), time.process_time()
        wood = see_wood(picture, outline)
        seen = time.perf_counter()
        face = reading(wood, size)
        try:
            joined = join_faces(face, face, 27.0, ("face 1", "face 2"))
            seen_through(picture, size, joined.turned, 0.002, joined.shift_mm)
        except BoardError:
            seen_through(picture, size, "sideways", 0.002, (0.0, 0.0))
        end = time.perf_counter(), time.process_time()
        times.append((end[0] - start[0], end[1] - start[1], seen - start[0]))
    clock, spent, wood_s = (min(column) for column in zip(*times, strict=True))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    area = size[0] * size[1] / 1e6
    return {"area": area, "clock": clock, "wood": wood_s, "spent": spent, "memory": memory}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--feet", default="4,8,12")
    parser.add_argument("--one", type=float, help="used inside: measure this length, print JSON")
    chosen = parser.parse_args()
    if chosen.one:
        print(json.dumps(measure(chosen.one)))
        return
    print(f"cores: {len(os.sched_getaffinity(0))}")
    print("  feet   area   clock   flaws, grain   processor   processor a m2   memory")
    for feet in map(float, chosen.feet.split(",")):
        command = [sys.executable, "-m", "tests.bench.wood_speed", "--one", str(feet)]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        row = json.loads(done.stdout)
        print(
            f"{feet:6.0f} {row['area']:6.2f} m2 {row['clock']:5.2f} s {row['wood']:10.2f} s"
            f" {row['spent']:11.2f} s {row['spent'] / row['area']:14.1f} s {row['memory']:8.0f} MB",
            flush=True,
        )


if __name__ == "__main__":
    main()
