"""The camera: from a place in the reference frame to a pixel and back.

Model: a pinhole with three radial and two tangential lens terms (D. C. Brown, "Close-range camera
calibration", Photogrammetric Engineering 37, 1971; the form and order OpenCV documents).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# A lens is the vector f, cx, cy, k1, k2, k3, p1, p2 (f, cx, cy in px).
LENS_SIZE = 8


def _cross(turn: Floats) -> Floats:
    """Return the matrix that takes the cross product with a vector from the left."""
    return np.array([[0.0, -turn[2], turn[1]], [turn[2], 0.0, -turn[0]], [-turn[1], turn[0], 0.0]])


def rotation(turn: Floats) -> Floats:
    """Return the rotation matrix (3, 3) of a turn vector (3,), rad (Rodrigues)."""
    angle = float(np.linalg.norm(turn))
    cross = _cross(turn)
    # Near zero both factors lose their digits; the series does not.
    if angle < 1e-4:
        first, second = 1.0 - angle**2 / 6, 0.5 - angle**2 / 24
    else:
        first, second = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2
    return np.asarray(np.eye(3) + first * cross + second * cross @ cross)


def distort(lens: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return where the lens puts undistorted normalised image points."""
    k1, k2, k3, p1, p2 = lens[3:]
    xx, yy, xy = x * x, y * y, x * y
    rr = xx + yy
    radial = 1.0 + rr * (k1 + rr * (k2 + rr * k3))
    return (
        x * radial + 2.0 * p1 * xy + p2 * (rr + 2.0 * xx),
        y * radial + p1 * (rr + 2.0 * yy) + 2.0 * p2 * xy,
    )


def _distort_slopes(lens: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Return how `distort` moves x by x, either by the other (both alike), and y by y."""
    k1, k2, k3, p1, p2 = lens[3:]
    rr = x * x + y * y
    radial = 1.0 + rr * (k1 + rr * (k2 + rr * k3))
    slope = 2.0 * (k1 + rr * (2.0 * k2 + 3.0 * rr * k3))
    return (
        radial + x * x * slope + 2.0 * p1 * y + 6.0 * p2 * x,
        x * y * slope + 2.0 * p1 * x + 2.0 * p2 * y,
        radial + y * y * slope + 6.0 * p1 * y + 2.0 * p2 * x,
    )


def undistort(lens: Floats, pixels: Floats) -> Floats:
    """Return the undistorted normalised image points (N, 2) of pixels (N, 2).

    Newton steps on both coordinates; the fixed-point form does not close near the corner of a
    strongly bent picture.
    """
    xd = (pixels[:, 0] - lens[1]) / lens[0]
    yd = (pixels[:, 1] - lens[2]) / lens[0]
    x, y = xd.copy(), yd.copy()
    for _ in range(12):
        ex, ey = distort(lens, x, y)
        ex, ey = ex - xd, ey - yd
        a, b, d = _distort_slopes(lens, x, y)
        det = a * d - b * b
        dx, dy = (d * ex - b * ey) / det, (a * ey - b * ex) / det
        x, y = x - dx, y - dy
        if max(np.abs(dx).max(initial=0.0), np.abs(dy).max(initial=0.0)) < 1e-13:
            break
    return np.column_stack([x, y])


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """One photo's lens and pose: ``Xc = R X + t``, X in the reference frame, mm."""

    lens: Floats
    R: Floats
    t: Floats

    @property
    def centre(self) -> Floats:
        """The place of the lens in the reference frame, (3,), mm."""
        return np.asarray(-self.R.T @ self.t)

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight and the plumb line."""
        return float(np.degrees(np.arccos(np.clip(abs(self.R[2, 2]), 0.0, 1.0))))

    def project(self, points: Floats) -> Floats:
        """Return the pixels (N, 2) of reference points (N, 3); NaN behind the camera."""
        seen = points @ self.R.T + self.t
        depth = np.where(seen[:, 2] > 1e-6, seen[:, 2], np.nan)
        xd, yd = distort(self.lens, seen[:, 0] / depth, seen[:, 1] / depth)
        f, cx, cy = self.lens[:3]
        return np.column_stack([f * xd + cx, f * yd + cy])

    def rays(self, pixels: Floats) -> Floats:
        """Return the viewing directions (N, 3) of pixels (N, 2) in the reference frame."""
        flat = undistort(self.lens, pixels)
        return np.asarray(np.column_stack([flat, np.ones(len(flat))]) @ self.R)


def turn_slopes(turn: Floats) -> Floats:
    """Return the derivatives (3, 3, 3) of ``rotation(turn)`` by each of the three turns."""
    angle = float(np.linalg.norm(turn))
    if angle < 1e-4:
        first, second, third = 1.0 - angle**2 / 6, 0.5 - angle**2 / 24, 1.0 / 6
    else:
        first, second = np.sin(angle) / angle, (1.0 - np.cos(angle)) / angle**2
        third = (1.0 - first) / angle**2
    # The left Jacobian of the rotation group: a small change of `turn` turns by its image.
    left = first * np.eye(3) + second * _cross(turn) + third * np.outer(turn, turn)
    R = rotation(turn)
    return np.stack([_cross(left[:, axis]) @ R for axis in range(3)])


def lens_slopes(camera: Camera, points: Floats) -> Floats:
    """Return the derivatives (N, 2, 8) of pixels by the lens vector, the pose held."""
    seen = points @ camera.R.T + camera.t
    x, y = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2]
    rr, f = x * x + y * y, camera.lens[0]
    out = np.zeros((len(points), 2, LENS_SIZE))
    out[:, 0, 0], out[:, 1, 0] = distort(camera.lens, x, y)
    out[:, 0, 1] = out[:, 1, 2] = 1.0
    for power in range(3):
        out[:, 0, 3 + power] = f * x * rr ** (power + 1)
        out[:, 1, 3 + power] = f * y * rr ** (power + 1)
    out[:, 0, 6] = out[:, 1, 7] = 2.0 * f * x * y
    out[:, 1, 6] = f * (rr + 2.0 * y * y)
    out[:, 0, 7] = f * (rr + 2.0 * x * x)
    return out


def slopes(camera: Camera, points: Floats) -> Floats:
    """Return the derivatives of pixels by reference points, shape (N, 2, 3), px/mm."""
    return np.asarray(seen_slopes(camera, points) @ camera.R)


def seen_slopes(camera: Camera, points: Floats) -> Floats:
    """Return the derivatives (N, 2, 3), px/mm, of pixels by the points as the camera sees them."""
    seen = points @ camera.R.T + camera.t
    z = seen[:, 2]
    x, y = seen[:, 0] / z, seen[:, 1] / z
    x_by_x, by_other, y_by_y = _distort_slopes(camera.lens, x, y)
    bend = np.empty((len(points), 2, 2))
    bend[:, 0, 0], bend[:, 1, 1] = x_by_x, y_by_y
    bend[:, 0, 1] = bend[:, 1, 0] = by_other
    flat = np.zeros((len(points), 2, 3))
    flat[:, 0, 0] = flat[:, 1, 1] = 1.0 / z
    flat[:, 0, 2], flat[:, 1, 2] = -x / z, -y / z
    return np.asarray(camera.lens[0] * (bend @ flat))


def twin(R: Floats, t: Floats, anchor: Floats) -> tuple[Floats, Floats]:
    """Return the mirror twin of a pose, as a long narrow reference allows it.

    The reference keeps its place and its direction in space and is turned about its own axis
    (x through ``anchor``) until its width looks the same from the other side.
    """
    place = R @ anchor + t
    along = R[:, 0]
    sight = place / np.linalg.norm(place)
    towards = sight - (sight @ along) * along
    norm = float(np.linalg.norm(towards))
    if norm < 1e-9:
        return R, t
    towards = towards / norm
    across = R[:, 1] - 2.0 * (R[:, 1] @ towards) * towards
    other = np.column_stack([along, across, np.cross(along, across)])
    return other, place - other @ anchor


def planar_poses(lens: Floats, points: Floats, pixels: Floats) -> list[tuple[Floats, Floats]]:
    """Return the poses from which a plane z = 0 would look like this, better one first.

    References
    ----------
    T. Collins and A. Bartoli, "Infinitesimal plane-based pose estimation", IJCV 109 (2014), as
    OpenCV's SOLVEPNP_IPPE.
    """
    flat = undistort(lens, pixels)
    world = np.column_stack([points, np.zeros(len(points))])
    # The method wants its plane centred and of moderate size.
    middle = world.mean(axis=0)
    size = float(np.abs(world - middle).max())
    answers = cv2.solvePnPGeneric(
        (world - middle) / size,
        flat.reshape(-1, 1, 2),
        np.eye(3),
        np.zeros(5),
        flags=cv2.SOLVEPNP_IPPE,
    )
    poses = []
    for turn, shift in zip(answers[1], answers[2], strict=True):
        R = rotation(np.asarray(turn, dtype=np.float64).ravel())
        t = np.asarray(shift, dtype=np.float64).ravel() * size - R @ middle
        poses.append((R, t))
    return poses
