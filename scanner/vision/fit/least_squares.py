"""One robust least-squares fit of cameras, references and face; every unknown with its covariance.

Levenberg-Marquardt on scaled normal equations (D. W. Marquardt, SIAM J. 11, 1963) with Huber
weights; priors are residuals.
"""

from __future__ import annotations

import contextlib
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import linalg

from scanner.errors import PhotoError
from scanner.vision.fit.camera import twin
from scanner.vision.fit.model import Model, State
from scanner.vision.fit.residuals import HUBER_SD, Rows, group_sizes

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from scanner.vision.evidence.observations import Floats, Observations

DROP_SD = 4.0
# A mirror twin whose cost is within this of the best (3 sd) cannot be told from it.
TWIN_ALIVE = 9.0
# One photo alone is fitted first; it need only sort out the hopeless poses.
_ALIVE_ALONE = 30.0
# Starts nearer to each other than this end in the same valley; who comes so near to where another
# one ended will end there, too.
SAME_POSE_RAD, _SAME_END_RAD = 0.12, 0.03
_MOST_STEPS = 60
_MOST_ROUNDS = 6
# A start in a valley of its own is down in 6 to 12 steps; one that then still lies this many times
# over the best one's cost crawls for hundreds of steps, and into the best one's valley.
_SOON_STEPS = 15
_HOPELESS = 50.0


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


def _square(off: Floats) -> float:
    """Return the sum of squares; infinite where a mark cannot be seen at all."""
    return float(off @ off) if np.isfinite(off).all() else math.inf


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """What is known when one photo's later starts are tried, so that they can be given up early.

    Attributes
    ----------
    ends
        Rotations (3, 3) at which former starts ended.
    hopeless
        The cost that is hopeless after a fair number of steps.
    """

    ends: tuple[Floats, ...] = ()
    hopeless: float = math.inf

    def has(self, model: Model, state: State) -> bool:
        """Return whether a state is on its way to where a former start ended."""
        if not self.ends:
            return False
        turn = model.camera(state, 0).R
        return any(_turn_between(turn, end) < _SAME_END_RAD for end in self.ends)


_NOTHING_KNOWN = _Known()


def _descend(rows: Rows, state: State, known: _Known) -> tuple[State, bool]:
    """Return the state of least cost near a state, and whether the steps closed.

    It is given up where what is ``known`` says that nothing new comes of it.
    """
    damping = 1e-3
    off = rows.residuals(state)
    cost = _square(off)
    rows.freeze_world(state)
    for taken in range(_MOST_STEPS):
        if (taken >= _SOON_STEPS and cost > known.hopeless) or known.has(rows.model, state):
            return state, False
        J = rows.jacobian(state)
        normal, slope = J.T @ J, J.T @ off
        size = 1.0 / np.sqrt(np.diag(normal) + 1e-12)
        scaled = normal * np.outer(size, size)
        while True:
            step: Floats = np.zeros(len(slope))
            with contextlib.suppress(linalg.LinAlgError, ValueError):
                factor = linalg.cho_factor(scaled + damping * np.eye(len(size)))
                step = np.asarray(-size * linalg.cho_solve(factor, size * slope))
            trial = State(state.values + step, state.turns)
            off_there = rows.residuals(trial)
            cost_there = _square(off_there)
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


def _polish(rows: Rows, state: State, known: _Known = _NOTHING_KNOWN) -> tuple[State, bool]:
    """Descend and reweigh by turns until the weights stand still."""
    closed = True
    for _ in range(_MOST_ROUNDS):
        state, closed = _descend(rows, state, known)
        if known.has(rows.model, state):
            break
        if not closed and _square(rows.residuals(state)) > known.hopeless:
            break
        if rows.reweigh(state) < 0.02:
            break
    return state, closed


def _without_outliers(observations: Observations, rows: Rows, state: State) -> Observations:
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

    rows: Rows
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


def _huber_cost(rows: Rows, state: State) -> float:
    if not np.isfinite(rows.residuals(state)).all():
        return math.inf
    total = 0.0
    both = zip(rows.model.observations.marks, rows.mark_residuals(state), strict=True)
    for marks, off in both:
        sizes = group_sizes(marks.groups, off)
        count = np.bincount(marks.groups) * off.shape[1]
        far = sizes > HUBER_SD
        rho = np.where(far, HUBER_SD * (2 * sizes - HUBER_SD), sizes**2)
        total += float((count * rho).sum())
    others = np.concatenate(rows.others(state))
    return total + float(others @ others)


def _valley(
    observations: Observations,
    cameras: list[tuple[Floats, Floats]],
    values: Floats | None,
    known: _Known = _NOTHING_KNOWN,
) -> _Valley:
    model = Model(observations)
    rows = Rows(model)
    if values is not None:
        # Unknowns that came in since then lie at the end.
        values = np.concatenate([values, np.zeros(model.size - len(values))])
    # Steps that run off overflow on the way; their cost then says so.
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        state, closed = _polish(rows, model.state_of(cameras, values), known)
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
        rows = Rows(model)
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
    total = 1 + observations.photos
    poses = [list(start) for start in starts]
    best: _Valley | None = None
    if seek_twins:
        for photo, start in enumerate(starts):
            alive = _alive(_valleys(_alone(observations, photo), start), _ALIVE_ALONE)
            poses[photo] = [valley.poses()[0] for valley in alive]
            report((1 + photo) / total)
            if values is None and alive[0].is_closed and _is_of_one(observations):
                # Nothing more is known of it than was fitted just now.
                best = alive[0]
    best = best or _valley(observations, [tried[0] for tried in poses], values)
    if not math.isfinite(best.cost):
        raise PhotoError(
            "No camera above the floor can have seen the reference as these photos show it",
            "give photos as taken, of one board and one reference",
        )
    others: list[_Valley] = []
    for photo, tried in enumerate(poses):
        for pose in tried[1:]:
            there = best.poses()
            there[photo] = pose
            other = _valley(observations, there, values)
            if other.cost < best.cost - 1e-6:
                best, other = other, best
            others.append(other)
    twins = [other for other in _alive([best, *others], TWIN_ALIVE) if other is not best]
    solution = _finish(best), tuple(_finish(other) for other in twins)
    report(1.0)
    return solution


def _valleys(observations: Observations, start: Sequence[tuple[Floats, Floats]]) -> list[_Valley]:
    """Return the valleys that one photo alone reaches from its poses and their mirror twins."""
    best = _valley(observations, [start[0]], None)
    out = [best]
    tried = [best.poses()[0]]
    # As the first steps of another start count it: no mark weighed down yet.
    unweighed = _square(Rows(best.rows.model).residuals(best.state))
    hopeless = _HOPELESS * (unweighed + _ALIVE_ALONE) if best.is_closed else math.inf
    mirrored = twin(*tried[0], best.rows.model.anchors[0])
    for pose in (mirrored, *start[1:]):
        if pose[0][2, 2] >= 0 or any(
            _turn_between(pose[0], other[0]) < SAME_POSE_RAD for other in tried
        ):
            continue  # seen from below, or tried before
        tried.append(pose)
        known = _Known(tuple(one.poses()[0][0] for one in out if one.is_closed), hopeless)
        valley = _valley(observations, [pose], None, known)
        if not known.has(valley.rows.model, valley.state):
            out.append(valley)
    return out


def _alive(valleys: Sequence[_Valley], within: float) -> list[_Valley]:
    """Return the valleys of nearly least cost, best first, each once."""
    best = min(valley.cost for valley in valleys)
    out: list[_Valley] = []
    for valley in sorted(valleys, key=lambda one: one.cost):
        if valley.cost <= best + within and all(valley.cost > one.cost + 1e-3 for one in out):
            out.append(valley)
    return out


def _is_of_one(observations: Observations) -> bool:
    """Return whether one photo says all that there is, so that it alone is the whole."""
    shown = {some.reference for some in observations.marks}
    others = len(observations.points) + len(observations.taped)
    return observations.photos == 1 and len(shown) == len(observations.references) and not others


def _alone(observations: Observations, photo: int) -> Observations:
    """Return what one photo says of the references that it shows.

    More photos can only rule poses out, so that what is dead here is dead in the joint fit.
    """
    marks = [some for some in observations.marks if some.photo == photo]
    shown = sorted({some.reference for some in marks})
    return replace(
        observations,
        lenses=(observations.lenses[photo],),
        own_bleed=observations.own_bleed[photo : photo + 1],
        references=tuple(observations.references[index] for index in shown),
        marks=tuple(
            replace(some, photo=0, reference=shown.index(some.reference)) for some in marks
        ),
        points=(),
        taped=(),
    )
