"""How long one face takes, against decoding its photo and warping it once at full size.

``python -m tests.bench.speed``: one rendered photo, enlarged or shrunk to 4, 8, 12, 24 and 50
megapixels; CPU seconds of this process, and memory at its highest. The outline and the flaws are
not counted: from file to scale, and the flat face drawn. ``try`` is measured on that photo without
and with a plain rule told (a coded strip lies there), and on one in which the told rule lies.
"""

from __future__ import annotations

from scanner.cli import one_thread  # noqa: F401 (as the command has it; before numpy)

# isort: split
import argparse
import io
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from scanner.app.demo import sample_request
from scanner.app.scanning.try_photo import try_photo
from scanner.files.sample_set import read_sample_set
from scanner.vision.first_look import rough_place
from scanner.vision.photos.photo import read_photo
from scanner.vision.rectify import flatten
from scanner.vision.scale import fit_scale
from scanner.vision.setup import Setup

MEGAPIXELS = (4, 8, 12, 24, 50)
SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
_FACE_MM_PER_PX = 0.5


def _seconds(work: Callable[[], object], times: int = 2) -> float:
    """Return the least CPU time of a few runs: what else the machine does then counts less."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def _resized(source: Path, megapixels: int, folder: Path, name: str) -> Path:
    """Write the photo again with so many pixels, its EXIF true to the new size."""
    picture = Image.open(source)
    share = (megapixels * 1e6 / (picture.width * picture.height)) ** 0.5
    size = (round(picture.width * share), round(picture.height * share))
    exif = picture.getexif()
    inner = exif.get_ifd(0x8769)
    inner[0xA002], inner[0xA003] = size
    path = folder / f"{name}-{megapixels}.jpg"
    picture.resize(size, Image.Resampling.LANCZOS).save(path, quality=92, exif=exif)
    return path


def _ratio(work: Callable[[], object], path: Path, times: int = 5) -> float:
    """Return the least CPU time of a look over the least of decoding its photo, turn about.

    In turns, so that both meet the machine as it is at one time: how fast it is changes by a half
    with what else it does.
    """
    content = path.read_bytes()
    decoding, looking = [], []
    for _ in range(times):
        decoding.append(
            _seconds(lambda: np.asarray(Image.open(io.BytesIO(content)).convert("RGB")))
        )
        looking.append(_seconds(work, 1))
    return min(looking) / min(decoding)


def measure(path: Path, setup: Setup, plain_path: Path) -> dict[str, float]:
    """Return seconds of decoding and warping once, of the face, and of first looks."""
    content = path.read_bytes()

    def plain() -> None:
        pixels = np.asarray(Image.open(io.BytesIO(content)).convert("RGB"))
        cv2.warpPerspective(pixels, np.eye(3), pixels.shape[1::-1], flags=cv2.INTER_CUBIC)

    photo = read_photo(path)
    place, *_ = rough_place((photo,), fit_scale((photo,), setup), path.name)

    def face() -> None:
        shot = read_photo(path)
        flatten((shot,), fit_scale((shot,), setup), place, _FACE_MM_PER_PX)

    out = {"decode_warp": _seconds(plain), "face": _seconds(face)}
    out["try"] = _ratio(lambda: try_photo(path), path)
    out["told"] = _ratio(lambda: try_photo(path, "36in"), path)
    out["rule"] = _ratio(lambda: try_photo(plain_path, "36in"), plain_path)
    out["memory_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return out


def main() -> None:
    """Print the table; each size runs in a process of its own, so that memory is its own."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--sizes", default=",".join(map(str, MEGAPIXELS)))
    arguments.add_argument("--one", nargs=2, help="used inside: measure these and print JSON")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    samples = read_sample_set(SAMPLES)
    sample = samples[0]
    ruled = next(one for one in samples if sample_request(one).rule is not None)
    request = sample_request(sample)
    setup = Setup(request.thickness, batten_mm=request.batten_mm, strip_taped=request.strip_taped)
    if chosen.one:
        print(json.dumps(measure(Path(chosen.one[0]), setup, Path(chosen.one[1]))))
        return
    print("megapixels  decode+warp   face   ratio   try / decode: strip, rule told, rule   memory")
    with tempfile.TemporaryDirectory() as folder:
        for size in map(int, chosen.sizes.split(",")):
            path = _resized(sample.photos_1[0], size, Path(folder), "strip")
            plain = _resized(ruled.photos_1[0], size, Path(folder), "rule")
            command = [sys.executable, "-m", "tests.bench.speed", "--one", str(path), str(plain)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            found = json.loads(done.stdout)
            print(
                f"{size:10d} {found['decode_warp']:10.2f} s {found['face']:5.2f} s "
                f"{found['face'] / found['decode_warp']:6.1f} "
                f"{found['try']:20.1f} {found['told']:10.1f} {found['rule']:5.1f} "
                f"{found['memory_mb']:8.0f} MB",
                flush=True,
            )


if __name__ == "__main__":
    main()
