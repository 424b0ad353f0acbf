"""The whole road on boards of the second renderer: photographs, scan, layout, parts cut out.

``python -m tests.bench.road_two --seeds 100-105``: as `tests.bench.road` does for the first
renderer, with its parts list, its judge and its careful person. Each board is photographed once a
face beside the coded strip; the strip's length is told as a careful person tapes it.
"""

import argparse
import pickle
from dataclasses import replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from shapely import affinity
from shapely.geometry import LineString, Polygon

from scanner.app.scanning.scan_board import scan_board
from scanner.app.scanning.scan_request import ScanRequest
from scanner.board.measured import Measured
from scanner.board.reading import span_along_y_mm
from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, polygon_of
from tests.bench.figures import Bench, Figure, keep, share_text
from tests.bench.many import in_order
from tests.bench.road import run_lots, sound_figures, true_board
from tests.render_two.kept import kept_photo

OUT = Path("out/bench/road_two")
_TAPE_SD_MM = 0.5
_STATIONS = (0.04, 0.27, 0.50, 0.73, 0.96)


class Framed:
    """A truth in the board frame of the files: x along the middle, zero at face 1's corner."""

    def __init__(self, truth) -> None:
        first = Polygon(truth.outline["1"])
        x0, _, x1, _ = first.bounds
        ends = [np.mean(span_along_y_mm(first, x)) for x in (x0 + 4, x1 - 4)]
        self.turn = float(np.arctan2(ends[1] - ends[0], x1 - x0 - 8))
        turned = affinity.rotate(first, -self.turn, origin=(0, 0), use_radians=True)
        self.shift = (-turned.bounds[0], -turned.bounds[1])
        self.outline = {face: self.ring(ring) for face, ring in truth.outline.items()}
        self.species, self.thickness = truth.species, truth.thickness
        flat = Polygon(self.outline["1"])
        middle = [np.mean(span_along_y_mm(flat, x)) for x in (3.0, flat.bounds[2] - 3)]
        self.length = _along(flat, middle)
        self.widths = tuple(
            (share * self.length, _width(flat, share * self.length)) for share in _STATIONS
        )
        self.flaws = tuple(_moved(flaw, self) for flaw in truth.flaws)

    def ring(self, ring):
        c, s = np.cos(self.turn), np.sin(self.turn)
        points = np.asarray(ring) @ np.array([[c, -s], [s, c]]) + self.shift
        return [(float(x), float(y)) for x, y in points]


def _along(flat, middle):
    x0, _, x1, _ = flat.bounds
    line = LineString([(x0 - 9, middle[0]), (x1 + 9, middle[1])])
    return float(line.intersection(flat).length)


def _width(flat, x):
    low, high = span_along_y_mm(flat, x)
    return high - low


def _moved(flaw, frame):
    rings = {f: [frame.ring(r) for r in rings] for f, rings in flaw.outlines.items()}
    return replace(flaw, outlines=rings)


def write_photo(photo, path: Path) -> None:
    """Write a photograph as a phone would, with its focal length in the EXIF."""
    camera = photo.photo.camera
    diagonal = float(np.hypot(*camera.size))
    exif = Image.Exif()
    exif[0x0110] = "second renderer"
    inner = exif.get_ifd(0x8769)
    inner[0xA405] = round(camera.f * 43.27 / diagonal)
    inner[0xA002], inner[0xA003] = camera.size
    Image.fromarray(photo.pixels).save(path, quality=95, exif=exif)


def scanned(seed: int, is_taped: bool = False):
    """Return the scanned board (or why not), its truth in the board frame, and how it was turned.

    One seed a call, so that several can be done side by side. ``is_taped``: the board's length is
    told as well, as a careful person tapes it.
    """
    cv2.setNumThreads(1)
    folder = OUT / str(seed)
    folder.mkdir(parents=True, exist_ok=True)
    photos = [kept_photo(seed, face) for face in (1, 2)]
    paths = [folder / f"face-{face}.jpg" for face in (1, 2)]
    for photo, path in zip(photos, paths, strict=True):
        write_photo(photo, path)
    truth = Framed(photos[0].board)
    tape, again = np.random.default_rng((seed, 98)).normal(0, _TAPE_SD_MM, 2)
    request = ScanRequest(
        id=f"S{seed}",
        photos_1=(paths[0],),
        photos_2=(paths[1],),
        thickness=Measured(round(truth.thickness), 1.0),
        species=truth.species,
        batten_mm=round(photos[0].photo.batten_mm),
        strip_taped=Measured(photos[0].photo.strip_true_mm + tape, 2.0),
        taped=Measured(truth.length + again, 2 * _TAPE_SD_MM) if is_taped else None,
    )
    turned = photos[1].photo.turned
    try:
        return scan_board(request, folder).board, truth, turned
    except ScannerError as error:
        return str(error), truth, turned


def run(seeds: range, jobs: int, kept: Path | None = None, is_taped: bool = False, lot: int = 12):
    boards, truths, refused, lengths, overlaps, turned = [], {}, [], [], [], []
    scan = partial(scanned, is_taped=is_taped)
    for seed, (board, truth, way) in zip(seeds, in_order(scan, seeds, jobs), strict=True):
        if isinstance(board, str):
            refused.append(seed)
            print(f"{seed}: refused: {board}", flush=True)
            continue
        boards.append(board)
        truths[board.id] = true_board(truth, board)
        lengths.append(board.length.value_mm - truth.length)
        overlaps += [iou(board.faces[f].outline, polygon_of(truth.outline[str(f)])) for f in (1, 2)]
        turned.append(board.turned == way)
        print(
            f"{seed} {truth.species} {truth.length:.0f} mm: length {lengths[-1]:+.1f} mm"
            f" (U {board.length.u_mm:.1f}), outlines {overlaps[-2]:.3f} {overlaps[-1]:.3f},"
            f" turned right {turned[-1]}, {len(board.flaws)} candidates",
            flush=True,
        )
    if kept is not None:
        kept.write_bytes(pickle.dumps([(board, truths[board.id]) for board in boards]))
    outcomes = []
    if boards:
        outcomes = run_lots(boards, truths, lot, jobs)
    return outcomes, refused, lengths, overlaps, turned


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="100-105", help="first-last")
    parser.add_argument("--jobs", type=int, default=1, help="boards side by side")
    parser.add_argument("--taped", action="store_true", help="tell the boards' lengths too")
    parser.add_argument("--kept", type=Path, help="write scanned and true boards here")
    chosen = parser.parse_args()
    span = chosen.seeds
    first, last = (int(v) for v in span.split("-"))
    cv2.setNumThreads(1)
    outcomes, refused, lengths, overlaps, turned = run(
        range(first, last + 1), chosen.jobs, chosen.kept, chosen.taped
    )
    count = last - first + 1
    figures = [Figure("boards scanned", share_text(count - len(refused), count))]
    if outcomes:
        looked = outcomes[1]
        figures += [
            Figure("length, worst", f"{max(map(abs, lengths)):.1f} mm"),
            Figure("outlines (IoU)", f"mean {np.mean(overlaps):.3f}, worst {min(overlaps):.3f}"),
            Figure("face 2 turned the right way", share_text(sum(turned), len(turned))),
            Figure("parts whole", share_text(looked.whole, looked.placed)),
            *sound_figures(outcomes),
        ]
        for outcome in outcomes:
            print(f"{outcome.way}: placed {outcome.placed}, sound {outcome.sound}")
            for line in outcome.objections[:12]:
                print(f"     {line}")
    for row in figures:
        print(f"{row.claim}: {row.figure} (bar {row.bar}, met {row.met})")
    if chosen.taped:
        return  # the figure told is that of photos alone
    keep(
        Bench(
            "road-two",
            "From photos to parts on wood of another making",
            f"a second renderer's boards of seeds {span}, in lots of about a dozen, one parts"
            " list a lot, parts cut out of the true boards",
            f"python -m tests.bench.road_two --seeds {span}",
            tuple(figures),
        )
    )


if __name__ == "__main__":
    main()
