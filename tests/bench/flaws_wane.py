"""Wane alone, as it is traced on flat faces, against its truth; natural and sawn edges beside it.

``python -m tests.bench.flaws_wane --seeds 5100-5103 --jobs 4``; nothing but the tracer runs, so
that many faces can be looked through. ``--keep`` holds what it was told from.
"""

import argparse
import gzip
import pickle
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.errors import ScannerError
from scanner.geometry.polygons import iou, union_of
from scanner.vision.outline.face_map import FaceMap, face_map
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import TracedOutline, trace_seen
from scanner.vision.photos.picture import FacePicture
from tests.bench.faces import flat_face
from tests.bench.flaws import wane_of
from tests.bench.many import in_order

# As in `wood_bars`: wane smaller than this is not counted, and told is what covers this much of it.
_LEAST_MM2, _TOLD_SHARE = 100.0, 0.3
_QUALITY = 80


@dataclass(frozen=True, eq=False)
class WaneSeen:
    """A face's true wane and what was traced; picture and map only where they are to be kept."""

    name: str
    outline: Polygon
    wane: tuple[Polygon, ...]
    traced: TracedOutline | None
    picture: FacePicture | None = None
    map: FaceMap | None = None
    jpeg: bytes = b""

    @property
    def whole(self) -> Polygon:
        """All wane of the face as one shape."""
        return union_of(self.wane)

    @property
    def traced_wane(self) -> tuple[Polygon, ...]:
        """Each wane that was told."""
        return self.traced.wane if self.traced else ()

    @property
    def told(self) -> Polygon:
        """All wane that was told, as one shape."""
        return union_of(self.traced_wane)


def seen_wane(job: tuple[int, int], *, keep: bool = False) -> WaneSeen:
    """Return what is traced of the wane of one face."""
    cv2.setNumThreads(1)
    face = flat_face(*job)
    try:
        traced = trace_seen(SeenSides((face.picture,)), face.name)
    except ScannerError:
        traced = None
    seen = WaneSeen(face.name, face.outline, wane_of(face), traced)
    if not keep or not (seen.wane or seen.traced_wane):
        return seen
    pixels = cv2.resize(face.picture.pixels, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    jpeg = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1].tobytes()
    told = face_map(face.picture)
    coarse = {name: getattr(told, name).astype(np.float16) for name in ("face", "wane", "body")}
    bare = replace(face.picture, pixels=np.zeros_like(face.picture.pixels))
    return replace(seen, picture=bare, map=replace(told, **coarse), jpeg=jpeg)


def report(faces: list[WaneSeen]) -> str:
    """Return how much of the wane is told, how well, and where none is."""
    hits = [
        seen.told.intersection(shape).area > _TOLD_SHARE * shape.area
        for seen in faces
        for shape in seen.wane
        if shape.area > _LEAST_MM2
    ]
    with_wane = [seen for seen in faces if seen.whole.area > _LEAST_MM2]
    as_one = [
        seen.told.intersection(seen.whole).area > _TOLD_SHARE * seen.whole.area
        for seen in with_wane
    ]
    near = [
        ([shape for shape in seen.traced_wane if shape.intersects(seen.whole)], seen.whole)
        for seen in faces
    ]
    ious = [iou(union_of(shapes), whole) for shapes, whole in near if shapes]
    bare = [seen for seen in faces if not seen.wane]
    false = sum(len(seen.traced_wane) for seen in bare)
    return "\n".join(
        [
            f"wane told: {sum(hits)} of {len(hits)}",
            f"all of a face as one: {sum(as_one)} of {len(as_one)}",
            f"IoU where told: median {np.median(ious or [0]):.2f} of {len(ious)}",
            f"told on {len(bare)} faces without any: {false}",
        ]
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="5100-5103", help="first-last")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    chosen = parser.parse_args()
    first, last = (int(v) for v in chosen.seeds.split("-"))
    jobs = [(seed, face) for seed in range(first, last + 1) for face in (1, 2)]
    work = partial(seen_wane, keep=chosen.keep is not None)
    faces = []
    for seen in in_order(work, jobs, chosen.jobs):
        faces.append(seen)
        if seen.wane or seen.traced_wane:
            areas = [round(shape.area) for shape in seen.wane]
            told = [round(shape.area) for shape in seen.traced_wane]
            line = f"{seen.name}: mm2 {areas}, told {told}, IoU {iou(seen.told, seen.whole):.2f}"
            print(line, flush=True)
    print(report(faces))
    if chosen.keep:
        chosen.keep.write_bytes(gzip.compress(pickle.dumps(faces)))


if __name__ == "__main__":
    main()
