"""Shapes of curved parts: a JSON polygon or an SVG outline, each with its grain line.

JSON: ``{"outline": [[x, y], ...], "grain": [[x, y], [x, y]]}``, millimetres. SVG: the first
``path`` or ``polygon`` is the outline, the first ``line`` the grain line; one user unit is a
millimetre, or what ``width`` and ``viewBox`` say.
"""

import json
import re
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from scanner.errors import PartsListError
from scanner.files.rows import TABLE_ENCODING, read_text
from scanner.files.svg_path import path_points
from scanner.units import LengthError, read_length_mm

Points = tuple[tuple[float, float], ...]
# A part's drawing has some hundred points; what is far larger is another kind of drawing.
_MOST_POINTS = 20_000
_MOST_LETTERS = 2_000_000
# Finer than a saw cuts: curves are simplified to this.
_FINE_MM = 0.1
_DIGITS = 6


def read_shape(path: Path) -> Points:
    """Return the outline of a part, mm, its grain along x and its bounds from (0, 0).

    Raises
    ------
    FileError
        The file cannot be read.
    PartsListError
        It holds no outline with a grain line; the sentence says what is missing.
    """
    return shape_in(read_text(path, fallback_encoding=TABLE_ENCODING), str(path))


def is_shape(text: str, name: str) -> bool:
    """Whether a file that was given is a drawing of a part and no parts list."""
    if name.lower().endswith(".svg"):
        return True
    if not name.lower().endswith(".json"):
        return False
    try:
        loose = json.loads(text.lstrip("\ufeff"))
    except (ValueError, RecursionError):
        return False
    return isinstance(loose, dict) and "outline" in loose


def shape_in(text: str, path: str) -> Points:
    """Return the outline of a part in the text of a drawing; see ``read_shape``.

    ``path`` is the file's name.
    """
    text = text.lstrip("\ufeff")
    if len(text) > _MOST_LETTERS:
        raise PartsListError(f"{path} is too long for a shape", "simplify the drawing")
    is_svg = path.lower().endswith(".svg")
    outline, grain = _of_svg(text, path) if is_svg else _of_json(text, path)
    if len(outline) > _MOST_POINTS:
        raise PartsListError(f"{path} has {len(outline)} points", "simplify the drawing")
    if not np.isfinite(np.concatenate([np.ravel(outline), np.ravel(grain)])).all():
        raise PartsListError(f"{path} holds a number that is none", "export it again")
    (x0, y0), (x1, y1) = grain
    if np.hypot(x1 - x0, y1 - y0) < 1e-6:
        raise PartsListError(f"{path}: the grain line has no length", "draw it longer")
    # Numbers near the least that a float holds send `simplify` round for ever.
    shape = Polygon(np.round(outline, _DIGITS)) if len(outline) > 2 else Polygon()
    if shape.is_empty or not shape.is_valid or shape.area <= 0:
        raise PartsListError(
            f"{path}: the outline is no closed shape", "close it, without crossings"
        )
    along = affinity.rotate(shape, -np.degrees(np.arctan2(y1 - y0, x1 - x0)), origin=(0, 0))
    left, low, _, _ = along.bounds
    moved = affinity.translate(along, -left, -low).simplify(_FINE_MM)
    return tuple((float(x), float(y)) for x, y in moved.exterior.coords[:-1])


def _of_json(text: str, path: str) -> tuple[Points, Points]:
    try:
        loose = json.loads(text)
    except (ValueError, RecursionError):
        raise PartsListError(
            f"{path} is neither SVG nor JSON", "name an .svg, or a .json with outline and grain"
        ) from None
    if not isinstance(loose, dict) or set(loose) != {"outline", "grain"}:
        raise PartsListError(
            f"{path} is no shape", 'write {"outline": [[x, y], ...], "grain": [[x, y], [x, y]]}'
        )
    outline, grain = (_points(loose[name]) for name in ("outline", "grain"))
    if outline is None or grain is None or len(grain) != 2:
        raise PartsListError(
            f"{path}: outline or grain is no list of points", "write [[x, y], ...]"
        )
    return outline, grain


def _points(loose: object) -> Points | None:
    try:
        points = np.array(loose, dtype=np.float64)
    except (TypeError, ValueError):
        return None
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        return None
    return tuple((float(x), float(y)) for x, y in points)


def _of_svg(text: str, path: str) -> tuple[Points, Points]:
    # Entities are of no use in a drawing, and a few nested ones fill a memory.
    if "<!ENTITY" in text or "<!DOCTYPE" in text:
        text = re.sub(r"<!DOCTYPE[^>\[]*>", "", text)
        if "<!" in text.replace("<!--", ""):
            raise PartsListError(f"{path} defines entities of its own", "save it as plain SVG")
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as problem:
        raise PartsListError(f"{path} is no SVG ({problem})", "export it again") from None
    every = [(element.tag.rpartition("}")[2], element) for element in root.iter()]
    if any("transform" in element.attrib for _, element in every):
        raise PartsListError(
            f"{path} moves its shapes by transform", "flatten the transforms first"
        )
    scale = _scale_of(root, path)
    outlines = [element for tag, element in every if tag in ("path", "polygon")]
    lines = [element for tag, element in every if tag == "line"]
    if not outlines:
        raise PartsListError(f"{path} has no path or polygon", "draw the part's outline")
    if not lines:
        raise PartsListError(f"{path} has no grain line", "draw one straight line along the grain")
    try:
        outline = _outline_of(outlines[0])
        ends = [float(lines[0].get(name, "0")) for name in ("x1", "y1", "x2", "y2")]
    except ValueError as problem:
        raise PartsListError(f"{path}: {problem}", "export it again") from None
    scaled = [(x * scale, y * scale) for x, y in outline]
    return tuple(scaled), ((ends[0], ends[1]), (ends[2], ends[3]))


def _outline_of(element: ElementTree.Element) -> Sequence[tuple[float, float]]:
    if element.tag.rpartition("}")[2] == "path":
        return path_points(element.get("d", ""))
    numbers = [
        float(n) for n in re.findall(r"[-+]?[\d.]+(?:e[-+]?\d+)?", element.get("points", ""))
    ]
    return list(zip(numbers[::2], numbers[1::2], strict=False))


def _scale_of(root: ElementTree.Element, path: str) -> float:
    """Return millimetres a user unit."""
    width, box = root.get("width"), root.get("viewBox", "").replace(",", " ").split()
    if width is None or len(box) != 4 or not re.search(r"[a-z]", width):
        return 1.0
    try:
        across = float(box[2])
        return read_length_mm(width, "mm") / across if across > 0 else 1.0
    except (LengthError, ValueError):
        raise PartsListError(
            f'{path}: its width "{width}" is no length', "give it in mm or in"
        ) from None
