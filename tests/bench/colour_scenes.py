"""Does wood keep its colour whatever the light: quick scenes, wood beside the strip seen square on.

Lights, strip, wood and the phone's development are the renderer's; there is no camera and no
floor, so that a board under four lights takes seconds. Whole photographs through the whole scan
are ``tests.bench.colours``.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
from shapely.geometry import Polygon, box

from scanner.vision.looks.colour import paper_white, wood_colour
from scanner.vision.photos.picture import FacePicture
from tests.bench.colours import LIGHTS, Seen, recipe, report
from tests.bench.figures import Bench, keep
from tests.render.develop import develop
from tests.render.light import Light, irradiance
from tests.render.rules import Ruler
from tests.render.shape import Shape
from tests.render.stage import surfaces_of
from tests.render.surface import FACE_1

_SIZE = (1150, 420)
# The strip's zero lies 25 mm left of the scene, its middle line 60 mm below the scene's top.
_LEFT_MM, _TOP_MM, _WOOD_MM = 25.0, -60.0, 60.0
_FLOOR = 0.24
_FOCAL_PX = 1500.0


def seen_in_scene(seed: int, light: str) -> Seen:
    """Return the colour of a board's wood as a phone saw it beside the strip."""
    board, photo, _, _ = recipe(seed, light)
    lamp = Light(photo.light)
    width, height = _SIZE
    v, u = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = (u + np.float32(_LEFT_MM)).ravel(), (v + np.float32(_TOP_MM)).ravel()
    albedo = np.full((len(x), 3), _FLOOR, np.float32)
    on_paper = np.abs(y) < 30
    albedo[on_paper] = Ruler(photo.rule, None).top(x[on_paper], y[on_paper])
    mx, my = x + 100, y - np.float32(_WOOD_MM + board.width_mm / 2)
    out, _ = Shape(board).outside(mx, my, np.zeros_like(mx))
    wood = (out <= 0) & (y > _WOOD_MM - 10)
    shade, slope, _ = surfaces_of(board).shade(mx[wood], my[wood], 0 * mx[wood], FACE_1, 1.0)
    albedo[wood] = shade * (1 - 0.3 * slope)[:, None]
    flat = (np.zeros_like(x), np.zeros_like(x), 1.0)
    lit = irradiance(lamp, flat, np.ones_like(x), np.ones_like(x)) * lamp.falloff(x + 200, y)
    camera = SimpleNamespace(cx=width / 2, cy=height / 2, focal=_FOCAL_PX, size=_SIZE)
    pixels = develop(
        (albedo * lit).reshape(height, width, 3).astype(np.float32),
        replace(photo, camera=camera),  # type: ignore[arg-type]
    )
    picture = FacePicture(
        np.ascontiguousarray(pixels), 1.0, (_LEFT_MM, _TOP_MM), 0.001, 0.5,
        np.ones(pixels.shape[:2], bool),
    )  # fmt: skip
    white = paper_white(picture, box(_LEFT_MM, -30, _LEFT_MM + width, 30))
    rows = np.flatnonzero(wood.reshape(height, width).mean(axis=1) > 0.95)
    face: Polygon = box(_LEFT_MM, rows[0] + _TOP_MM, _LEFT_MM + width, rows[-1] + _TOP_MM)
    colour = wood_colour(picture, face, (), white) if white else None
    if colour is None:
        return Seen(seed, board.species, light, None, None, "burnt out")
    return Seen(seed, board.species, light, colour.lab, colour.spread)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="3100-3111")
    asked.add_argument("--keep", action="store_true", help="put the figures among those kept")
    options = asked.parse_args()
    cv2.setNumThreads(1)
    first, last = (int(v) for v in options.seeds.split("-"))
    rows = [seen_in_scene(seed, light) for seed in range(first, last + 1) for light in LIGHTS]
    figures = report(rows)
    for figure in figures:
        print(f"{figure.claim}: {figure.figure}")
    if options.keep:
        keep(
            Bench(
                "colour-scenes",
                "Colour of clear wood under four lights, quick scenes",
                f"rendered boards {options.seeds} beside the strip, no camera, a phone's own curve",
                f"python -m tests.bench.colour_scenes --seeds {options.seeds} --keep",
                tuple(figures),
            )
        )


if __name__ == "__main__":
    main()
