"""The data of an SVG path as points (W3C, Scalable Vector Graphics 1.1, section 8.3)."""

import itertools
import math
import re
from collections.abc import Iterator

Point = tuple[float, float]
# A curve, and each quarter turn of an arc, is drawn in so many straight steps: within 0.1 mm at a
# radius of 600 mm.
_STEPS = 48
_TOKEN = re.compile(r"([MmLlHhVvCcSsQqTtAaZz])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


def path_points(data: str) -> list[Point]:
    """Return the points of the first closed run of a path, curves in short straight steps.

    Raises
    ------
    ValueError
        The data is no path.
    """
    points: list[Point] = []
    at: Point = (0.0, 0.0)
    last: Point | None = None
    before = ""
    for command, numbers in _commands(data):
        kind, relative = command.upper(), command.islower()
        if kind == "Z" or (kind == "M" and points):
            break
        ox, oy = at if relative else (0.0, 0.0)
        if kind in "HV":
            x, y = at
            at = (ox + numbers[0], y) if kind == "H" else (x, oy + numbers[0])
            points.append(at)
        elif kind in "MLT" and kind != "T":
            at = (ox + numbers[0], oy + numbers[1])
            points.append(at)
        elif kind == "A":
            end = (ox + numbers[5], oy + numbers[6])
            points += _arc(at, end, numbers)
            at = end
        else:
            pairs = [(ox + x, oy + y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
            if kind in "ST":
                smooth = last is not None and before in ("CS" if kind == "S" else "QT")
                turned = (2 * at[0] - last[0], 2 * at[1] - last[1]) if smooth and last else at
                pairs.insert(0, turned)
            points += _curve([at, *pairs])
            last, at = pairs[-2], pairs[-1]
        before = kind
    return points


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers; numbers that go on repeat the command."""
    if _TOKEN.sub("", data).strip(" ,\t\r\n"):
        raise ValueError("the path holds what is no command or number")
    command = ""
    numbers: list[float] = []
    for letter, number in _TOKEN.findall(data):
        if letter:
            if numbers:
                raise ValueError("the path has too few numbers for a command")
            command = letter
            if _TAKES[letter.upper()] == 0:
                yield letter, []
            continue
        if not command:
            raise ValueError("the path begins without a command")
        numbers.append(float(number))
        if len(numbers) == _TAKES[command.upper()]:
            yield command, numbers
            numbers = []
            command = {"M": "L", "m": "l"}.get(command, command)
    if numbers:
        raise ValueError("the path has too few numbers for a command")


def _curve(control: list[Point]) -> list[Point]:
    """Return points on a Bezier curve of any degree, its start left out (de Casteljau)."""
    found = []
    for step in range(1, _STEPS + 1):
        t, row = step / _STEPS, control
        while len(row) > 1:
            row = [
                (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
                for a, b in itertools.pairwise(row)
            ]
        found.append(row[0])
    return found


def _arc(start: Point, end: Point, numbers: list[float]) -> list[Point]:
    """Return points on an elliptical arc, its start left out (SVG 1.1, appendix F.6.5)."""
    rx, ry, turn, large, sweep = abs(numbers[0]), abs(numbers[1]), *numbers[2:5]
    if rx == 0 or ry == 0 or start == end:
        return [end]
    phi = math.radians(turn)
    cosine, sine = math.cos(phi), math.sin(phi)
    half = ((start[0] - end[0]) / 2, (start[1] - end[1]) / 2)
    x, y = cosine * half[0] + sine * half[1], -sine * half[0] + cosine * half[1]
    grow = math.sqrt(max(1.0, (x / rx) ** 2 + (y / ry) ** 2))
    rx, ry = rx * grow, ry * grow
    under = (rx * ry) ** 2 - (rx * y) ** 2 - (ry * x) ** 2
    root = math.sqrt(max(0.0, under / ((rx * y) ** 2 + (ry * x) ** 2)))
    root = -root if bool(large) == bool(sweep) else root
    cx, cy = root * rx * y / ry, -root * ry * x / rx
    first = math.atan2((y - cy) / ry, (x - cx) / rx)
    span = math.atan2((-y - cy) / ry, (-x - cx) / rx) - first
    if sweep and span < 0:
        span += 2 * math.pi
    if not sweep and span > 0:
        span -= 2 * math.pi
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    found = []
    steps = max(1, math.ceil(_STEPS * abs(span) / (math.pi / 2)))
    for step in range(1, steps + 1):
        angle = first + span * step / steps
        u, v = cx + rx * math.cos(angle), cy + ry * math.sin(angle)
        found.append((cosine * u - sine * v + middle[0], sine * u + cosine * v + middle[1]))
    return found
