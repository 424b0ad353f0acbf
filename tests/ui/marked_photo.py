"""A sample photograph with a layout's lines drawn on the board in chalk, by the picture's truth."""

import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from scanner.placement.layout import Placement
from tests.bench.marks import pen_lines
from tests.render.truth import PhotoTruth

SAMPLES = Path(__file__).parents[2] / "sample_images"
_CHALK = (236, 238, 240)
_WIDE_MM = 5.0
# Chalk skips over pores; what it covers shows the wood a little.
_COVER = 0.85


def draw_on_sample(
    name: str, placements: Sequence[Placement], off_mm: Mapping[tuple[str, str], float]
) -> bytes:
    """Return a sample photograph as JPEG with each part's four sides drawn on its board.

    Parameters
    ----------
    name
        Of the photograph, which shows face 1.
    off_mm
        How far a line is drawn from where it belongs, towards end B or the lower edge, by part
        (``"shelf 1"``) and side (``"A"``, ``"B"``, ``"upper"``, ``"lower"``).
    """
    truth = _truth_of(name)
    with Image.open(SAMPLES / name) as file:
        picture = np.asarray(file.convert("RGB")).astype(float)
    cover = np.zeros(picture.shape[:2], dtype=np.uint8)
    for line in pen_lines(placements):
        at = line["at"] + sum(off_mm.get(key, 0.0) for key in line["keys"])
        along = np.linspace(line["low"], line["high"], 60)
        there = np.full_like(along, at)
        points = np.column_stack([there, along] if line["across"] else [along, there])
        px = truth.photo_from_face(points)
        mm = float(np.linalg.norm(px[-1] - px[0]) / (line["high"] - line["low"]))
        path = np.round(px * 16).astype(np.int32)
        cv2.polylines(cover, [path], False, 255, max(2, round(_WIDE_MM * mm)), cv2.LINE_AA, 4)
    share = _COVER * cv2.GaussianBlur(cover, (0, 0), 0.8).astype(float)[..., None] / 255
    drawn = Image.fromarray(np.uint8(picture * (1 - share) + np.array(_CHALK) * share))
    out = io.BytesIO()
    drawn.save(out, "JPEG", quality=92)
    return out.getvalue()


def true_length_mm(name: str) -> float:
    """Return how long the board in a sample photograph is."""
    return float(_board_of(name)["truth"]["board"]["length"])


def _truth_of(name: str) -> PhotoTruth:
    return PhotoTruth(**_board_of(name)["truth"]["photos"][name])


def _board_of(name: str) -> dict:
    boards = json.loads((SAMPLES / "manifest.json").read_text("utf-8"))["boards"]
    return next(one for one in boards if name in one["truth"]["photos"])
