"""One robust least-squares fit of cameras, references and face; every unknown with its covariance.

Levenberg-Marquardt on scaled normal equations (D. W. Marquardt, SIAM J. 11, 1963) with Huber
weights (P. J. Huber, "Robust estimation of a location parameter", 1964); priors are residuals.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg

from scanner.vision.camera import slopes, twin
from scanner.vision.model import Model, State

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from scanner.vision.observations import Floats, Observations

HUBER_SD = 2.0
DROP_SD = 4.0
# A mirror twin whose cost is within this of the best (3 sd) cannot be told from it.
TWIN_ALIVE = 9.0
# Starts nearer to each other than this end in the same valley.
SAME_POSE_RAD = 0.12
_MOST_STEPS = 60
_MOST_ROUNDS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Where a fit ended.

    Attributes
    ----------
    covariance
        Of ``state.values`` (in prior sd), not yet widened by the misfit.
    cost
        Weighted sum of squares, priors included.
    chi2_per_dof
        Misfit; 1 where all sd were right.
    dropped_share
        Share of mark groups (markers) that were left out.
    is_good
        False where the steps ran out.
    """

    model: Model
    state: State
    covariance: Floats
    cost: float
    chi2_per_dof: float
    dropped_share: float
    is_good: bool


@dataclass(frozen=True, slots=True, eq=False)
class _PointsView:
    """The face points that one photo shows."""

    index: NDArray[np.int_]
    pixels: Floats
    sd_px: Floats

    @staticmethod
    def of(observations: Observations, photo: int) -> _PointsView:
        """Return the face points seen in a photo."""
        rows = [
            (index, x, y, sd)
            for index, point in enumerate(observations.points)
            for where, x, y, sd in point.seen
            if where == photo
        ]
        table = np.array(rows, dtype=np.float64).reshape(-1, 4)
        return _PointsView(table[:, 0].astype(np.int_), table[:, 1:3], table[:, 3])


class _Rows:
    """Residuals and derivatives of one model; group weights are set from outside."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.group_weights = [
            np.ones(int(marks.groups.max(initial=-1)) + 1) for marks in model.observations.marks
        ]
        self.world_slopes: list[Floats] = []
        photos = range(model.observations.photos)
        self.views = [_PointsView.of(model.observations, photo) for photo in photos]

    def freeze_world(self, state: State) -> None:
        """Take the derivatives of the marks' places, all but constant, once."""
        self.world_slopes = [
            self.model.marks_world_slopes(state, marks) for marks in self.model.observations.marks
        ]

    def mark_residuals(self, state: State) -> list[Floats]:
        """Return the residuals (N, K) in sd of each set of marks, without weights."""
        out = []
        for marks in self.model.observations.marks:
            camera = self.model.camera(state, marks.photo)
            seen = camera.project(self.model.marks_world(state, marks))
            off = (seen - marks.pixels)[:, None, :]
            out.append((marks.directions * off).sum(axis=2) / marks.sd_px[:, None])
        return out

    def others(self, state: State) -> list[Floats]:
        """Return the residuals of face points, taped lengths and priors."""
        model, _seen = self.model, self.model.observations
        out: list[Floats] = []
        places = model.points_mm(state)
        for photo, view in enumerate(self.views):
            if len(view.index):
                world = model.face_world(state, places[view.index])
                off = model.camera(state, photo).project(world) - view.pixels
                out.append((off / view.sd_px[:, None]).ravel())
        out.append(self._taped(state))
        out.append(state.values[model.has_prior])
        return out

    def _taped(self, state: State) -> Floats:
        """Return the residuals of taped board lengths and of the taped strip."""
        model, seen = self.model, self.model.observations
        out: list[float] = []
        if seen.taped:
            world = model.face_world(state, model.points_mm(state))
            for taped in seen.taped:
                span = float(np.linalg.norm(world[taped.first] - world[taped.second]))
                out.append((span - taped.value_mm) / taped.sd_mm)
        if seen.taped_strip is not None:
            nominal, value, sd = seen.taped_strip
            length = (1 + model.value(state, "print")[0]) * nominal
            if "joints 0" in model.blocks:
                piece = seen.references[0].piece_mm or nominal
                inside = max(0, round(nominal / piece) - 1)
                length += model.value(state, "joints 0")[:inside].sum()
            out.append(float((length - value) / sd))
        return np.array(out)

    def residuals(self, state: State) -> Floats:
        """Return all residuals, weighted."""
        parts = []
        both = zip(self.model.observations.marks, self.mark_residuals(state), strict=True)
        for (marks, off), weights in zip(both, self.group_weights, strict=True):
            parts.append((off * np.sqrt(weights[marks.groups])[:, None]).ravel())
        out = np.concatenate([*parts, *self.others(state)])
        return np.where(np.isfinite(out), out, 1e6)

    def jacobian(self, state: State) -> Floats:
        """Return the derivatives of all residuals by all unknowns."""
        model, seen = self.model, self.model.observations
        rows: list[Floats] = []
        for marks, world_slopes, weights in zip(
            seen.marks, self.world_slopes, self.group_weights, strict=True
        ):
            world = model.marks_world(state, marks)
            pixel = model.camera_slopes(state, marks.photo, world)
            pixel = pixel + slopes(model.camera(state, marks.photo), world) @ world_slopes
            scale = np.sqrt(weights[marks.groups]) / marks.sd_px
            rows.append(((marks.directions @ pixel) * scale[:, None, None]).reshape(-1, model.size))
        rows.append(self._others_jacobian(state))
        return np.concatenate(rows)

    def _others_jacobian(self, state: State) -> Floats:
        model, _seen = self.model, self.model.observations
        rows: list[Floats] = []
        places = model.points_mm(state)
        for photo, view in enumerate(self.views):
            if not len(view.index):
                continue
            xy = places[view.index]
            row = model.face_slopes(state, photo, xy)
            own = model.place_slopes(state, photo, xy)
            for place, index in enumerate(view.index):
                row[place, :, model.blocks[f"point {index}"].slice] += own[place]
            rows.append((row / view.sd_px[:, None, None]).reshape(-1, model.size))
        base = self._taped(state)
        taped = np.zeros((len(base), model.size))
        # A few taped lengths: a plain numerical derivative of them alone.
        for unknown in self._unknowns_of_taped() if len(base) else ():
            stepped = state.values.copy()
            stepped[unknown] += 1e-3
            taped[:, unknown] = (self._taped(State(stepped, state.turns)) - base) / 1e-3
        priors = np.eye(model.size)[model.has_prior]
        return np.concatenate([*rows, taped, priors])

    def _unknowns_of_taped(self) -> list[int]:
        names = ["print", "joints 0", "face"]
        for taped in self.model.observations.taped:
            names += [f"point {taped.first}", f"point {taped.second}"]
        blocks = (self.model.blocks[name] for name in names if name in self.model.blocks)
        return [index for block in blocks for index in range(block.start, block.start + block.size)]

    def reweigh(self, state: State) -> float:
        """Set Huber weights, one for all corners of a marker; return the largest change."""
        change = 0.0
        both = zip(self.model.observations.marks, self.mark_residuals(state), strict=True)
        for index, (marks, off) in enumerate(both):
            sizes = group_sizes(marks.groups, off)
            weights = np.minimum(1.0, HUBER_SD / np.maximum(sizes, 1e-9))
            change = max(change, float(np.abs(weights - self.group_weights[index]).max(initial=0)))
            self.group_weights[index] = weights
        return change


def group_sizes(groups: NDArray[np.int_], off: Floats) -> Floats:
    """Return the root mean square residual, in sd, of each group of marks."""
    count = np.bincount(groups) * off.shape[1]
    total = np.bincount(groups, weights=(off**2).sum(axis=1))
    return np.asarray(np.sqrt(total / np.maximum(count, 1)))


def _descend(rows: _Rows, state: State) -> tuple[State, bool]:
    """Return the state of least cost near a state, and whether the steps closed."""
    damping = 1e-3
    off = rows.residuals(state)
    cost = float(off @ off)
    rows.freeze_world(state)
    for _ in range(_MOST_STEPS):
        J = rows.jacobian(state)
        normal, slope = J.T @ J, J.T @ off
        diagonal = np.diag(normal) + 1e-12
        while True:
            step: Floats = np.zeros(len(slope))
            with contextlib.suppress(linalg.LinAlgError, ValueError):
                damped = normal + np.diag(damping * diagonal)
                step = np.asarray(-linalg.solve(damped, slope, assume_a="pos"))
            trial = State(state.values + step, state.turns)
            off_there = rows.residuals(trial)
            cost_there = float(off_there @ off_there)
            if cost_there < cost and np.any(step):
                break
            damping *= 10.0
            if damping > 1e10:
                return state, True
        gain = cost - cost_there
        state, off, cost = trial, off_there, cost_there
        damping = max(damping * 0.1, 1e-12)
        if gain < 1e-6 * (1.0 + cost):
            return state, True
    return state, False


def _polish(rows: _Rows, state: State) -> tuple[State, bool]:
    """Descend and reweigh by turns until the weights stand still."""
    closed = True
    for _ in range(_MOST_ROUNDS):
        state, closed = _descend(rows, state)
        if rows.reweigh(state) < 0.02:
            break
    return state, closed


def _without_outliers(observations: Observations, rows: _Rows, state: State) -> Observations:
    """Return the observations less the mark groups over 4 sd."""
    kept = []
    both = zip(observations.marks, rows.mark_residuals(state), strict=True)
    for marks, off in both:
        keep = group_sizes(marks.groups, off)[marks.groups] <= DROP_SD
        kept.append(marks.only(keep))
    return replace(observations, marks=tuple(marks for marks in kept if len(marks.pixels)))


def _count_groups(observations: Observations) -> int:
    return sum(len(np.unique(marks.groups)) for marks in observations.marks)


@dataclass(frozen=True, slots=True, eq=False)
class _Valley:
    """A minimum over all marks, before any is left out; costs of valleys can be compared."""

    rows: _Rows
    state: State
    cost: float
    is_closed: bool

    def poses(self) -> list[tuple[Floats, Floats]]:
        """Return R, t of each photo."""
        model = self.rows.model
        cameras = [model.camera(self.state, i) for i in range(model.observations.photos)]
        return [(camera.R, camera.t) for camera in cameras]


def _turn_between(first: Floats, second: Floats) -> float:
    """Return the angle between two rotations, rad."""
    return float(np.arccos(np.clip((np.trace(first @ second.T) - 1) / 2, -1.0, 1.0)))


def _huber_cost(rows: _Rows, state: State) -> float:
    total = 0.0
    both = zip(rows.model.observations.marks, rows.mark_residuals(state), strict=True)
    for marks, off in both:
        sizes = np.nan_to_num(group_sizes(marks.groups, off), nan=1e6)
        count = np.bincount(marks.groups) * off.shape[1]
        far = sizes > HUBER_SD
        rho = np.where(far, HUBER_SD * (2 * sizes - HUBER_SD), sizes**2)
        total += float((count * rho).sum())
    others = np.concatenate(rows.others(state))
    return total + float(others @ others)


def _valley(
    observations: Observations, cameras: list[tuple[Floats, Floats]], values: Floats | None
) -> _Valley:
    model = Model(observations)
    rows = _Rows(model)
    if values is not None:
        # Unknowns that came in since then lie at the end.
        values = np.concatenate([values, np.zeros(model.size - len(values))])
    state, closed = _polish(rows, model.state_of(cameras, values))
    return _Valley(rows, state, _huber_cost(rows, state), closed)


def _finish(valley: _Valley) -> Solution:
    """Leave out what does not fit, settle again, and take the covariance."""
    rows, state, closed = valley.rows, valley.state, valley.is_closed
    observations = rows.model.observations
    fewer = _without_outliers(observations, rows, state)
    before = _count_groups(observations)
    dropped = 1.0 - _count_groups(fewer) / max(1, before)
    if dropped > 0 and {m.photo for m in fewer.marks} == {m.photo for m in observations.marks}:
        # The anchors move with the marks that are left, so the poses are written anew.
        model = Model(fewer)
        rows = _Rows(model)
        state, closed = _polish(rows, model.state_of(valley.poses(), state.values))
    J = rows.jacobian(state)
    off = rows.residuals(state)
    normal = J.T @ J
    scale = 1.0 / np.sqrt(np.maximum(np.diag(normal), 1e-300))
    inverse = linalg.pinvh(normal * np.outer(scale, scale))
    dof = max(1, len(off) - rows.model.size)
    return Solution(
        model=rows.model,
        state=state,
        covariance=inverse * np.outer(scale, scale),
        cost=valley.cost,
        chi2_per_dof=float(off @ off) / dof,
        dropped_share=dropped,
        is_good=closed,
    )


def solve(
    observations: Observations,
    starts: Sequence[Sequence[tuple[Floats, Floats]]],
    progress: Callable[[float], None] | None = None,
    values: Floats | None = None,
    *,
    seek_twins: bool = True,
) -> tuple[Solution, tuple[Solution, ...]]:
    """Return the best solution, and the mirror twins that the photos cannot rule out.

    Parameters
    ----------
    observations
        All photos of a face.
    starts
        For each photo the poses (R, t) to start from, best guess first.
    values
        Values of a former fit to start from, or None.
    seek_twins
        False: try no poses but those given.
    """
    report = progress or (lambda _share: None)
    total = 1 + 2 * observations.photos
    best = _valley(observations, [start[0] for start in starts], values)
    report(1 / total)
    others: list[_Valley] = []
    for photo, start in enumerate(starts):
        camera = best.rows.model.camera(best.state, photo)
        turned = [twin(camera.R, camera.t, best.rows.model.anchors[photo])] if seek_twins else []
        tried = [camera.R]
        for pose in (*turned, *start[1:]):
            if pose[0][2, 2] >= 0 or any(_turn_between(pose[0], R) < SAME_POSE_RAD for R in tried):
                continue  # seen from below, or tried before
            tried.append(pose[0])
            poses = best.poses()
            poses[photo] = pose
            other = _valley(observations, poses, values)
            if other.cost < best.cost - 1e-6:
                best, other = other, best
            others.append(other)
        report((2 + 2 * photo) / total)
    alive = [other for other in others if best.cost + 1e-3 < other.cost < best.cost + TWIN_ALIVE]
    solution, twins = _finish(best), tuple(_finish(other) for other in alive)
    report(1.0)
    return solution, twins
