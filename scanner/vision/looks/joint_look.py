"""How a piece looks along its long edges, and how alike two edges are that would meet in a joint.

Read off the flat face pictures. Pictures of two boards were taken apart, so their colours compare
only as well as the light did; shimmer shows in no photograph.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.vision.grain import GrainField, grain_field

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]

# The strip beside a joint whose ring lines the eye follows, the rim whose colour it compares, and
# the windows along them.
STRIP_MM, RIM_MM, WINDOW_MM = 18.0, 6.0, 30.0
# Pictures are brought to this scale before they are read: fine enough for ring lines.
MM_PER_PX = 0.75
# What a difference in the grain's course (radians), in colour (log) and in ring spacing (log) adds
# to the unlikeness: on the mean over the edge, and window by window. Chosen on slices of rendered
# boards (seeds 1000-1019 of `tests.bench.joints`): the course alone finds half of the joints.
_COURSE, _COLOUR, _SPACING = (10.0, 10.0), (3.0, 6.0), (1.0, 0.5)
# The courses of the grain below and above the middle of a cathedral lean at least so much apart.
_ARCH_RAD_PER_MM = 2.5e-4
# Less agreement among the lines of a strip than this tells no course.
_LEAST_COHERENCE = 0.12


@dataclass(frozen=True, slots=True, eq=False)
class EdgeLook:
    """One long edge of a piece as it is shown, from left to right.

    Attributes
    ----------
    course_rad
        (N,) direction of the grain beside the edge in each window, from right towards down.
    colour
        (N, 3) mean log colour of its rim.
    spacing
        (N,) log of the usual distance between ring lines across it, mm.
    """

    course_rad: Floats
    colour: Floats
    spacing: Floats

    @property
    def mean_course_rad(self) -> float:
        """The direction of the grain along the whole edge."""
        return float(self.course_rad.mean())

    def reversed(self) -> "EdgeLook":
        """Return the same edge seen after the piece was turned end for end."""
        return EdgeLook(self.course_rad[::-1], self.colour[::-1], self.spacing[::-1])


@dataclass(frozen=True, slots=True, eq=False)
class PieceLook:
    """A piece as it is shown: its upper and lower edge, and its cathedral.

    ``cathedral``: 1 where arches point to the right, -1 to the left, 0 where none can be told.
    """

    upper: EdgeLook
    lower: EdgeLook
    cathedral: int

    def turned(self) -> "PieceLook":
        """Return the look of the piece turned end for end."""
        return PieceLook(self.lower.reversed(), self.upper.reversed(), -self.cathedral)


def look_of(picture: Pixels) -> PieceLook:
    """Return how a piece looks.

    Parameters
    ----------
    picture
        (H, W, 3) RGB at `MM_PER_PX`, the piece and nothing else, as it is shown, length to the
        right.

    Raises
    ------
    ValueError
        The picture is smaller than a window.
    """
    window = round(WINDOW_MM / MM_PER_PX)
    if picture.shape[0] < 8 or picture.shape[1] < window:
        raise ValueError(f"a piece of {picture.shape[:2]} px is too small to look at")
    log = np.log(np.maximum(picture.astype(np.float64), 4.0))
    light = log.mean(axis=2)
    whole = np.ones(light.shape, np.bool_)
    field = grain_field((100 * light).astype(np.float32), whole, MM_PER_PX)
    upside_down = GrainField(field.angle_rad[::-1], field.coherence[::-1])
    return PieceLook(
        _edge(log, field, window), _edge(log[::-1], upside_down, window), _cathedral(field)
    )


def _edge(log: Floats, field: GrainField, window: int) -> EdgeLook:
    """Return the look of the edge along the first row."""
    count = log.shape[1] // window
    strip = min(round(STRIP_MM / MM_PER_PX), len(log))
    rim = min(round(RIM_MM / MM_PER_PX), len(log))

    def windows(values: Floats) -> Floats:
        wide = values[:, : count * window]
        return wide.reshape(len(values), count, window, *values.shape[2:])

    # A direction has no arrow: angles are doubled before they are averaged.
    doubled = 2.0 * field.angle_rad[:strip].astype(np.float64)
    weight = field.coherence[:strip].astype(np.float64)
    rise = windows(weight * np.sin(doubled)).sum(axis=(0, 2))
    run = windows(weight * np.cos(doubled)).sum(axis=(0, 2))
    # Averaged along the grain, saw marks vanish and ring lines stay.
    profiles = windows(log[:strip].mean(axis=2)).mean(axis=2).T
    return EdgeLook(
        0.5 * np.arctan2(rise, run), windows(log[:rim]).mean(axis=(0, 2)), _spacing(profiles)
    )


def _spacing(profiles: Floats) -> Floats:
    """Return the log of the mean period of each profile (N, H), from its spectrum's middle."""
    n = profiles.shape[1]
    slope = np.linspace(-1, 1, n)
    flat = profiles - profiles.mean(axis=1, keepdims=True)
    flat = flat - np.outer(flat @ slope / (slope @ slope), slope)
    power = np.abs(np.fft.rfft(flat * np.hanning(n), axis=1)) ** 2
    frequency = np.fft.rfftfreq(n, MM_PER_PX)
    # One line over the whole strip is shade, not a ring.
    power[:, frequency < 1.5 / (n * MM_PER_PX)] = 0
    total = power.sum(axis=1)
    middle = (power @ frequency) / np.maximum(total, 1e-12)
    return np.asarray(-np.log(np.maximum(middle, 1e-3)), dtype=np.float64)


def _cathedral(field: GrainField) -> int:
    """Return which way arches point: above the middle their lines fall to it, below they rise."""
    height = field.angle_rad.shape[0]
    y = (np.arange(height) - (height - 1) / 2) * MM_PER_PX
    weight = np.where(field.coherence > _LEAST_COHERENCE, field.coherence, 0).astype(np.float64)
    angle = field.angle_rad.astype(np.float64)
    # Steep directions are knots and saw marks.
    weight = np.where(np.abs(angle) < 0.5, weight, 0)
    total = weight.sum()
    if total < 0.05 * weight.size:
        return 0
    mean_y = float((weight.sum(axis=1) @ y) / total)
    mean_angle = float((weight * angle).sum() / total)
    away = (y - mean_y)[:, None]
    spread = float((weight * away**2).sum())
    lean = float((weight * away * (angle - mean_angle)).sum()) / max(spread, 1e-9)
    if abs(lean) < _ARCH_RAD_PER_MM:
        return 0
    return -1 if lean > 0 else 1


def unlikeness(one: EdgeLook, other: EdgeLook) -> float:
    """Return how unlike two edges are that meet; 0 for the same edge.

    Windows are compared side by side from the left; what is longer counts no further.
    """
    return (
        _apart(one.course_rad, other.course_rad, _COURSE)
        + _apart(one.colour, other.colour, _COLOUR)
        + _apart(one.spacing, other.spacing, _SPACING)
    )


def _apart(one: Floats, other: Floats, weights: tuple[float, float]) -> float:
    n = min(len(one), len(other))
    difference = one[:n] - other[:n]
    mean = difference.mean(axis=0)
    return float(weights[0] * np.abs(mean).mean() + weights[1] * np.abs(difference - mean).mean())


def joints_of(looks: list[list[PieceLook | None]]) -> Floats:
    """Return the cost of every joint, (N, S, N, S), lower edge of one to upper edge of the next.

    Parameters
    ----------
    looks
        For each piece its look in each state; None where it may not lie so (cost infinite).
    """
    count, kinds = len(looks), max(len(states) for states in looks)
    joints = np.full((count, kinds, count, kinds), np.inf)
    for i, states in enumerate(looks):
        for s, one in enumerate(states):
            if one is None:
                continue
            for j, others in enumerate(looks):
                for t, other in enumerate(others):
                    if other is not None and i != j:
                        joints[i, s, j, t] = unlikeness(one.lower, other.upper)
    return joints
