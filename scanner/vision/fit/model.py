"""The unknowns of the fit, and what the photos would show for given unknowns.

Every unknown is written as mean + sd * value, so that a prior is one more residual: value. Poses
have no prior; each is a small turn about the point looked at, that point's place in the picture
and log(f / distance). Those are all but independent of each other and of the focal length, which
camera position and turn about the lens are not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from scanner.geometry.strip_layout import joints_before
from scanner.vision.fit.camera import (
    LENS_SIZE,
    Camera,
    lens_slopes,
    rotation,
    seen_slopes,
    slopes,
    turn_slopes,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scanner.vision.evidence.observations import Floats, Marks, Observations, Reference

_POSE_UNITS = np.array([0.01, 0.01, 0.01, 1.0, 1.0, 0.001])
# Step of the numerical derivatives of places, in sd: they are all but linear.
_WORLD_STEP = 1e-2
# A joint that slipped may be off by anything; by far more than this it would be a missing piece.
_LOOSE_JOINT_MM = 50.0
# A page fitted to other paper comes out by a few per cent smaller or larger; by far more it is
# seen to be.
_ODD_SIZE = 0.1
# Where cup and twist of the face are counted from its middle line, mm, and as far as they go on.
_CUP_AT_MM, _WIDEST_MM = 100.0, 250.0


@dataclass(frozen=True, slots=True)
class Block:
    """A run of unknowns: where it starts, how many, which prior group of the budget."""

    name: str
    start: int
    size: int
    group: str

    @property
    def slice(self) -> slice:
        """Its place in the vector of unknowns."""
        return slice(self.start, self.start + self.size)


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Values of all unknowns (in sd), and the turns that the poses are counted from."""

    values: Floats
    turns: tuple[Floats, ...]


class _Unknowns(NamedTuple):
    """A run of unknowns before the fit: means and standard deviations, own units; infinite: free.

    Without a prior ``sd`` is only the unit that they are counted in.
    """

    name: str
    group: str
    mean: Floats
    sd: Floats
    has_prior: bool = True


def _unknowns(observations: Observations) -> Iterator[_Unknowns]:
    """Yield all that the fit does not know, in the order of the vector of unknowns."""
    # Shared by all photos: log of f over its prior, the principal point's distance from the
    # middle of the picture, the five lens terms.
    yield _Unknowns("lens", "lens", np.zeros(LENS_SIZE), np.ones(LENS_SIZE))
    for photo in range(observations.photos):
        if observations.photos > 1:
            own = observations.lenses[photo]
            sd = np.array([own.sd_focus, own.sd_stabiliser_px, own.sd_stabiliser_px])
            yield _Unknowns(f"shift {photo}", "lens", np.zeros(3), sd)
        yield _Unknowns(f"pose {photo}", "pose", np.zeros(6), _POSE_UNITS, has_prior=False)
    if any(reference.is_printed for reference in observations.references):
        sd = np.array([*observations.sd_print, *observations.sd_bleed])
        yield _Unknowns("print", "print", np.array([0.0, 0.0, *observations.bleed_mm]), sd)
        for photo, (mean_mm, sd_mm) in enumerate(observations.own_bleed):
            yield _Unknowns(f"bleed {photo}", "pose", np.array(mean_mm), np.array(sd_mm))
    for index, reference in enumerate(observations.references):
        yield from _of_reference(index, reference)
    face = observations.face
    yield _Unknowns(
        "face",
        "height",
        np.array([0.0, 0.0, 0.0, face.crown[0], face.ends[0]]),
        np.array([face.sd_thickness, face.sd_roll, face.sd_pitch, face.crown[1], face.ends[1]]),
    )
    for index, point in enumerate(observations.points):
        start = np.array(point.start_mm, dtype=np.float64)
        yield _Unknowns(f"point {index}", "points", start, np.ones(2), has_prior=False)
    # Last, since a refit starts from the values that a former fit without it ended at.
    if face.sd_form is not None:
        yield _Unknowns("form", "height", np.zeros(2), np.array(face.sd_form))


def _of_reference(index: int, reference: Reference) -> Iterator[_Unknowns]:
    """Yield what is not known of one reference: its sizes, how it lies, where."""
    if reference.is_printed and reference.joints:
        joints = np.full(reference.joints, reference.sd_joint)
        joints[list(reference.loose)] = _LOOSE_JOINT_MM
        yield _Unknowns(f"joints {index}", "print", np.zeros(reference.joints), joints)
    if reference.odd:
        sizes = np.full(len(reference.odd), _ODD_SIZE)
        yield _Unknowns(f"sizes {index}", "print", np.zeros(len(sizes)), sizes)
    if not reference.is_printed:
        scale = (reference.sd_along, reference.sd_across)
        sd = np.array([*scale, *reference.sd_bleed, reference.sd_line])
        mean = np.array([0.0, 0.0, *reference.bleed_mm, 0.0])
        yield _Unknowns(f"rule {index}", "print", mean, sd)
    shape = np.array([reference.sd_sag, reference.sd_crook, reference.sd_height])
    yield _Unknowns(f"shape {index}", "height", np.zeros(3), shape)
    if reference.sd_place is not None:
        mean, sd = np.array(reference.place), np.array(reference.sd_place)
        yield _Unknowns(f"place {index}", "pose", mean, sd)


class Model:
    """What `Observations` would look like for given unknowns."""

    def __init__(self, observations: Observations) -> None:
        self.observations = observations
        lens = observations.lenses[0]
        self.lens_mean = np.array([0.0, 0.0, 0.0, *lens.terms])
        self.lens_mixing = lens.mixing
        self.blocks: dict[str, Block] = {}
        every = list(_unknowns(observations))
        self.size = 0
        for one in every:
            self.blocks[one.name] = Block(one.name, self.size, len(one.mean), one.group)
            self.size += len(one.mean)
        free = [~np.isfinite(one.sd) for one in every]
        self.mean = np.concatenate([one.mean for one in every])
        self.unit = np.concatenate(
            [np.where(f, 1.0, u.sd) for f, u in zip(free, every, strict=True)]
        )
        self.has_prior = np.concatenate(
            [~f & u.has_prior for f, u in zip(free, every, strict=True)]
        )
        self.anchors = self._anchors()

    def _anchors(self) -> tuple[Floats, ...]:
        """Return the point of the reference frame that each pose turns about."""
        start = State(np.zeros(self.size), ())
        anchors = []
        for photo in range(self.observations.photos):
            seen = [
                self.marks_world(start, marks)
                for marks in self.observations.marks
                if marks.photo == photo
            ]
            anchors.append(np.mean(np.concatenate(seen), axis=0))
        return tuple(anchors)

    def value(self, state: State, name: str) -> Floats:
        """Return the unknowns of a block in their own units."""
        at = self.blocks[name].slice
        return np.asarray(self.mean[at] + self.unit[at] * state.values[at])

    def lens(self, state: State, photo: int) -> Floats:
        """Return the lens vector of a photo."""
        lens = self.lens_mean + self.lens_mixing @ self.value(state, "lens")
        shift = self.value(state, f"shift {photo}") if self.observations.photos > 1 else np.zeros(3)
        prior = self.observations.lenses[photo].mean
        lens[0] = prior[0] * np.exp(lens[0] + shift[0])
        lens[1:3] += prior[1:3] + shift[1:]
        return lens

    def camera(self, state: State, photo: int) -> Camera:
        """Return the camera of a photo."""
        lens = self.lens(state, photo)
        pose = self.value(state, f"pose {photo}")
        R = rotation(pose[:3]) @ state.turns[photo]
        f = lens[0]
        depth = f * np.exp(-pose[5])
        # Places are counted from the middle of the picture, so that moving the principal point
        # turns the camera instead of shifting the whole picture.
        middle = self.observations.lenses[photo].mean[1:3]
        x, y = (pose[3] + middle[0] - lens[1]) / f, (pose[4] + middle[1] - lens[2]) / f
        place = depth * np.array([x, y, 1.0])
        return Camera(lens, R, place - R @ self.anchors[photo])

    def state_of(self, cameras: list[tuple[Floats, Floats]], values: Floats | None = None) -> State:
        """Return the state with given poses (R, t); other unknowns as in ``values`` or at zero."""
        start = np.zeros(self.size) if values is None else values.copy()
        state = State(start, tuple(R for R, _ in cameras))
        for photo, (R, t) in enumerate(cameras):
            middle = self.observations.lenses[photo].mean[1:3]
            lens = self.lens(state, photo)
            place = R @ self.anchors[photo] + t
            at = self.blocks[f"pose {photo}"].slice
            seen = lens[0] * place[:2] / place[2] + lens[1:3] - middle
            pose = np.array([0.0, 0.0, 0.0, *seen, np.log(lens[0] / place[2])])
            start[at] = pose / _POSE_UNITS
        return state

    def face_world(self, state: State, xy: Floats) -> Floats:
        """Return the reference points (N, 3) of face points (N, 2)."""
        face = self.observations.face
        dt, roll, pitch, crown, ends = self.value(state, "face")
        dx, dy = xy[:, 0] - face.middle_mm[0], xy[:, 1] - face.middle_mm[1]
        cos, sin = np.cos(face.angle_rad), np.sin(face.angle_rad)
        # Beyond the board the parabola would run away.
        a = np.clip((cos * dx + sin * dy) / face.half_length_mm, -1.15, 1.15)
        b = cos * dy - sin * dx
        aa = a * a
        z = face.thickness_mm + dt + roll * b + pitch * a + crown * (1 - aa) + ends * aa
        if "form" in self.blocks:
            cup, twist = self.value(state, "form")
            wide = np.clip(b, -_WIDEST_MM, _WIDEST_MM) / _CUP_AT_MM
            z = z + (cup * wide + twist * a) * wide
        return np.column_stack([xy, z])

    def marks_world(self, state: State, marks: Marks) -> Floats:
        """Return the reference points (N, 3) of the marks."""
        index = marks.reference
        reference = self.observations.references[index]
        x, y = marks.points_mm[:, 0], marks.points_mm[:, 1]
        half = reference.size_mm[0] / 2
        outwards = np.zeros_like(y)
        own_size: Floats = np.zeros_like(y)
        a = np.clip(x / half - 1.0, -1.0, 1.0)
        if reference.is_printed:
            sx, sy, bx, more = self.value(state, "print")
            by = bx + more
            if self.observations.own_bleed:
                own = self.value(state, f"bleed {marks.photo}")
                bx, by = bx + own[0], by + own[1]
            moved = (1 + sx) * x + marks.signs[:, 0] * bx
            if reference.joints and reference.piece_mm is not None:
                walk = np.concatenate([[0.0], np.cumsum(self.value(state, f"joints {index}"))])
                before = joints_before(x, reference.piece_mm)
                moved = moved + walk[np.clip(before, 0, len(walk) - 1)]
            if reference.odd and reference.piece_mm is not None:
                sizes = self.value(state, f"sizes {index}")
                for piece, larger in zip(reference.odd, sizes, strict=True):
                    within = x - piece * reference.piece_mm
                    # What lies beyond it begins where it ends.
                    moved = moved + larger * np.clip(within, 0.0, reference.piece_mm)
                    own_size[(within > 0) & (within <= reference.piece_mm)] += larger
        else:
            sx, sy, bx, by, line = self.value(state, f"rule {index}")
            outwards = line * np.sign(y) * marks.are_graduations
            moved = (1 + sx) * x + marks.signs[:, 0] * bx
        sag, crook, lift = self.value(state, f"shape {index}")
        across = (1 + sy + own_size) * y + marks.signs[:, 1] * by + outwards + crook * (1 - a * a)
        # The piece turns with the slope of its crook.
        moved = moved + across * (2 * crook * a / half)
        if reference.sd_place is not None:
            px, py, turn = self.value(state, f"place {index}")
            cos, sin = np.cos(turn), np.sin(turn)
            moved, across = px + cos * moved - sin * across, py + sin * moved + cos * across
        z = reference.height_mm + lift + sag * (1 - a * a)
        if reference.on_face:
            z = z + self.face_world(state, np.column_stack([moved, across]))[:, 2]
        return np.column_stack([moved, across, z])

    def points_mm(self, state: State) -> Floats:
        """Return the places of the face points, (N, 2), reference frame."""
        count = len(self.observations.points)
        places = [self.value(state, f"point {index}") for index in range(count)]
        return np.array(places).reshape(count, 2)

    def camera_slopes(self, state: State, photo: int, world: Floats) -> Floats:
        """Return derivatives (N, 2, unknowns) of pixels by the camera of their photo."""
        camera = self.camera(state, photo)
        by_place, by_lens = seen_slopes(camera, world), lens_slopes(camera, world)
        pose = self.value(state, f"pose {photo}")
        shrink = np.exp(-pose[5])
        out = np.zeros((len(world), 2, self.size))
        # Where the anchor lies before the camera follows the pose, the focal length and the
        # principal point (see `camera`).
        anchor = camera.R @ self.anchors[photo] + camera.t
        lens = by_lens.copy()
        lens[:, :, 0] = camera.lens[0] * by_lens[:, :, 0] + by_place[:, :, 2] * anchor[2]
        lens[:, :, 1:3] -= shrink * by_place[:, :, :2]
        at = self.blocks["lens"].slice
        out[:, :, at] = lens @ self.lens_mixing
        if self.observations.photos > 1:
            at = self.blocks[f"shift {photo}"].slice
            out[:, :, at] = lens[:, :, :3] * self.unit[at]
        turned = turn_slopes(pose[:3]) @ state.turns[photo]
        moved = (world - self.anchors[photo]) @ turned.transpose(0, 2, 1)
        own = np.empty((len(world), 2, 6))
        own[:, :, :3] = np.einsum("nij,knj->nik", by_place, moved)
        own[:, :, 3:5] = shrink * by_place[:, :, :2]
        own[:, :, 5] = -by_place @ anchor
        at = self.blocks[f"pose {photo}"].slice
        out[:, :, at] = own * self.unit[at]
        return out

    def face_unknowns(self) -> list[int]:
        """Return the places of the unknowns that tell how high the face lies."""
        names = [name for name in ("face", "form") if name in self.blocks]
        return [i for name in names for i in range(self.size)[self.blocks[name].slice]]

    def face_slopes(self, state: State, photo: int, xy: Floats) -> Floats:
        """Return derivatives (N, 2, unknowns) of a face point's pixel, its place held."""
        world = self.face_world(state, xy)
        out = self.camera_slopes(state, photo, world)
        lift = np.zeros((len(xy), self.size))
        for index in self.face_unknowns():
            stepped = state.values.copy()
            stepped[index] += _WORLD_STEP
            there = self.face_world(State(stepped, state.turns), xy)
            lift[:, index] = (there[:, 2] - world[:, 2]) / _WORLD_STEP
        bend = slopes(self.camera(state, photo), world)
        return np.asarray(out + bend[:, :, 2, None] * lift[:, None, :])

    def place_slopes(self, state: State, photo: int, xy: Floats) -> Floats:
        """Return derivatives (N, 2, 2) of a face point's pixel by its place on the face."""
        step = 0.01
        camera = self.camera(state, photo)
        columns = []
        for axis in range(2):
            move = np.zeros(2)
            move[axis] = step
            there = camera.project(self.face_world(state, xy + move))
            back = camera.project(self.face_world(state, xy - move))
            columns.append((there - back) / (2 * step))
        return np.stack(columns, axis=2)

    def marks_world_slopes(self, state: State, marks: Marks) -> Floats:
        """Return derivatives (N, 3, unknowns) of the marks' places; zero for camera unknowns."""
        world = self.marks_world(state, marks)
        out = np.zeros((len(world), 3, self.size))
        index = marks.reference
        names = ["print", f"joints {index}", f"sizes {index}", f"rule {index}"]
        names += [f"shape {index}", f"place {index}", f"bleed {marks.photo}"]
        if self.observations.references[index].on_face:
            names += ["face", "form"]
        for name in names:
            if name not in self.blocks:
                continue
            for unknown in range(*self.blocks[name].slice.indices(self.size)):
                stepped = state.values.copy()
                stepped[unknown] += _WORLD_STEP
                there = self.marks_world(State(stepped, state.turns), marks)
                out[:, :, unknown] = (there - world) / _WORLD_STEP
        return out
