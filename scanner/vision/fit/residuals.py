"""What a state of the unknowns leaves unexplained, in sd, and how that changes with each unknown.

Huber weights (P. J. Huber, "Robust estimation of a location parameter", 1964): one for all marks
that stand or fall together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scanner.vision.fit.camera import slopes
from scanner.vision.fit.model import State

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.evidence.observations import Floats, Observations
    from scanner.vision.fit.model import Model

HUBER_SD = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class PointsView:
    """The face points that one photo shows: indices, pixels (N, 2), weights (N, 2, 2)."""

    index: NDArray[np.int_]
    pixels: Floats
    weights: Floats

    @staticmethod
    def of(observations: Observations, photo: int) -> PointsView:
        """Return the face points seen in a photo."""
        views = [
            (index, view)
            for index, point in enumerate(observations.points)
            for view in point.seen
            if view.photo == photo
        ]
        return PointsView(
            np.array([index for index, _ in views], dtype=np.int_),
            np.array([(view.x_px, view.y_px) for _, view in views]).reshape(-1, 2),
            np.array([view.weights for _, view in views]).reshape(-1, 2, 2),
        )

    def weighted(self, off: Floats) -> Floats:
        """Return distances in px (N, 2) as residuals in sd."""
        return np.asarray((self.weights @ off[:, :, None])[:, :, 0])


class Rows:
    """Residuals and derivatives of one model; group weights are set from outside."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.group_weights = [
            np.ones(int(marks.groups.max(initial=-1)) + 1) for marks in model.observations.marks
        ]
        self.world_slopes: list[Floats] = []
        photos = range(model.observations.photos)
        self.views = [PointsView.of(model.observations, photo) for photo in photos]
        self.view_weights = [np.ones(len(view.index)) for view in self.views]

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
        out: list[Floats] = [
            (off * np.sqrt(weights)[:, None]).ravel()
            for off, weights in zip(self._view_residuals(state), self.view_weights, strict=True)
        ]
        out.append(self._taped(state))
        out.append(state.values[model.has_prior])
        return out

    def _view_residuals(self, state: State) -> list[Floats]:
        """Return the residuals (N, 2) in sd of the face points of each photo, without weights."""
        model = self.model
        places = model.points_mm(state)
        out = []
        for photo, view in enumerate(self.views):
            world = model.face_world(state, places[view.index])
            out.append(view.weighted(model.camera(state, photo).project(world) - view.pixels))
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
                if "sizes 0" in model.blocks:
                    length += model.value(state, "sizes 0").sum() * piece
            out.append(float((length - value) / sd))
        return np.array(out)

    def residuals(self, state: State) -> Floats:
        """Return all residuals, weighted; not finite where a mark lies behind its camera."""
        parts = []
        both = zip(self.model.observations.marks, self.mark_residuals(state), strict=True)
        for (marks, off), weights in zip(both, self.group_weights, strict=True):
            parts.append((off * np.sqrt(weights[marks.groups])[:, None]).ravel())
        return np.concatenate([*parts, *self.others(state)])

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
            scale = np.sqrt(self.view_weights[photo])
            rows.append(((view.weights @ row) * scale[:, None, None]).reshape(-1, model.size))
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
        names = ["print", "joints 0", "sizes 0", "face", "form"]
        for taped in self.model.observations.taped:
            names += [f"point {taped.first}", f"point {taped.second}"]
        blocks = (self.model.blocks[name] for name in names if name in self.model.blocks)
        return [index for block in blocks for index in range(block.start, block.start + block.size)]

    def reweigh(self, state: State) -> float:
        """Set Huber weights, one a marker and one a view of a point; return the largest change."""
        change = 0.0
        both = zip(self.model.observations.marks, self.mark_residuals(state), strict=True)
        for index, (marks, off) in enumerate(both):
            sizes = group_sizes(marks.groups, off)
            weights = np.minimum(1.0, HUBER_SD / np.maximum(sizes, 1e-9))
            change = max(change, float(np.abs(weights - self.group_weights[index]).max(initial=0)))
            self.group_weights[index] = weights
        # A blade of grass over the rim was matched with another, say.
        for photo, off in enumerate(self._view_residuals(state)):
            sizes = np.sqrt((off**2).mean(axis=1))
            weights = np.minimum(1.0, HUBER_SD / np.maximum(sizes, 1e-9))
            change = max(change, float(np.abs(weights - self.view_weights[photo]).max(initial=0)))
            self.view_weights[photo] = weights
        return change


def group_sizes(groups: NDArray[np.int_], off: Floats) -> Floats:
    """Return the root mean square residual, in sd, of each group of marks."""
    count = np.bincount(groups) * off.shape[1]
    total = np.bincount(groups, weights=(off**2).sum(axis=1))
    return np.asarray(np.sqrt(total / np.maximum(count, 1)))
