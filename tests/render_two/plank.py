"""What a seed stands for: species, stem, branches, cracks and blemishes of one board."""

from dataclasses import dataclass

import numpy as np

from tests.render_two.blemishes import Patch, draw_patches
from tests.render_two.branches import Branch
from tests.render_two.cracks import Crack, end_crack, face_checks, shake
from tests.render_two.form import Form, draw_form
from tests.render_two.growth import grow
from tests.render_two.sawing import Saw, draw_saw
from tests.render_two.solid import Solid
from tests.render_two.species import SPECIES, Species


@dataclass(frozen=True, eq=False)
class Plank:
    """A board as drawn from its seed; ``bark_year`` is the stem's last year."""

    seed: int
    species: Species
    length: float
    width: float
    thickness: float
    solid: Solid
    form: Form
    cracks: tuple[Crack, ...]
    patches: tuple[Patch, ...]
    saw: Saw
    bark_year: float
    sap_years: float
    weathered: float
    has_pith: bool


def draw_plank(seed: int) -> Plank:
    """Return the board of a seed."""
    rng = np.random.default_rng((seed, 2202))
    species = SPECIES[list(SPECIES)[int(rng.integers(len(SPECIES)))]]
    length = float(rng.uniform(1000, 2440))
    width = float(rng.uniform(105, 235))
    thickness = float(rng.choice([27.0, 28.0, 33.5]) + rng.normal(0, 0.5))
    pith, outward = _pith(rng, width, thickness)
    stem = grow(rng, length, pith, species.ring_mm)
    # The outside of the stem lies where the board is furthest from the pith.
    bark_face = 1 if outward[1] < 0 else 2
    bark_low = bool(outward[0] < 0) if abs(outward[0]) > 0.3 else bool(rng.random() < 0.5)
    form = draw_form(rng, length, width, thickness, bark_face, bark_low)
    solid = Solid(stem, (), float(rng.normal(0, 0.02)), thickness)
    branches = _branches(rng, solid, length, width, thickness)
    solid = Solid(stem, branches, solid.spiral, thickness)
    corner = np.array([[0.0, 0, 0], [0, width, 0], [0, 0, thickness], [0, width, thickness]])
    ends = np.concatenate([corner, corner + np.array([length, 0, 0])])
    far = float(stem.year(*ends.T.astype(np.float32)).max())
    outer = 0.0 if form.wane else max(0.0, rng.normal(3, 8))
    mean_ring = float(np.sqrt(species.ring_mm[0] * species.ring_mm[1]))
    has_pith = bool(0 < pith[0] < width and 0 < pith[1] < thickness)
    return Plank(
        seed,
        species,
        length,
        width,
        thickness,
        solid,
        form,
        _cracks(rng, solid, form, length, width),
        draw_patches(rng, solid, form, species, branches),
        draw_saw(rng, width),
        far + outer,
        species.sap_mm / mean_ring * rng.uniform(0.5, 1.2),
        float(max(0.0, rng.normal(0.0, 0.22))),
        has_pith,
    )


def _pith(rng, width, thickness):
    """Return the pith's place (y, z) and the way from it to the board."""
    sawn = rng.random()
    side = rng.choice([-1, 1])
    if sawn < 0.62:  # flat sawn
        deep = rng.uniform(12, 150) if rng.random() < 0.9 else -rng.uniform(2, thickness / 2)
        y = width * rng.uniform(0.25, 0.75)
        z = -deep if side < 0 else thickness + deep
    elif sawn < 0.82:  # rift
        angle = rng.uniform(0.5, 1.0)
        far = rng.uniform(60, 150)
        y = -far * np.cos(angle) if rng.random() < 0.5 else width + far * np.cos(angle)
        z = thickness / 2 + side * far * np.sin(angle)
    else:  # quartered
        y = -rng.uniform(8, 60) if rng.random() < 0.5 else width + rng.uniform(8, 60)
        z = thickness / 2 + rng.normal(0, 18)
    way = np.array([width / 2 - y, thickness / 2 - z])
    return (float(y), float(z)), way / np.linalg.norm(way)


def _branches(rng, solid, length, width, thickness):
    made = []
    count = int(rng.poisson(rng.choice([0.6, 2.5, 6.0], p=[0.3, 0.45, 0.25]) * length / 2000))
    upward = rng.choice([-1, 1])
    for _ in range(count):
        x, y = rng.uniform(30, length - 30), rng.uniform(6, width - 6)
        z = rng.uniform(0, thickness)
        py, pz = (float(v) for v in solid.stem.pith_at(x))
        across = np.array([y - py, z - pz])
        far = float(np.linalg.norm(across))
        if far < 6:
            continue
        across /= far
        steep = upward * rng.uniform(0.1, 0.8)
        way = np.array([np.sin(steep), *(across * np.cos(steep))])
        s_here = far / np.cos(steep)
        size = float(np.clip(rng.lognormal(np.log(9), 0.6), 2.5, 32))  # radius at the board, mm
        look = str(rng.choice(["sound", "loose", "hollow", "cracked"], p=[0.5, 0.24, 0.1, 0.16]))
        base = np.array([x - np.tan(steep) * far, py, pz])
        dead = (
            s_here * rng.uniform(1.1, 3)
            if look in ("sound", "cracked")
            else s_here * rng.uniform(0.5, 0.9)
        )
        # Healed over inside the board now and then: then it shows on one face only.
        end = s_here + (rng.uniform(-4, 12) if rng.random() < 0.35 else 400.0)
        lobes = tuple((abs(rng.normal(0, 0.05)) / (n + 1), rng.uniform(0, 6.3)) for n in range(4))
        cracks = ()
        if look in ("cracked", "hollow") or rng.random() < 0.25:
            first = rng.uniform(0, 6.3)
            cracks = tuple(
                (first + n * 2.2 + rng.normal(0, 0.3), rng.uniform(0.3, 1.0) * max(size / 12, 0.5))
                for n in range(int(rng.integers(1, 4)))
            )
        made.append(
            Branch(
                base,
                way,
                size / min(s_here, dead),
                float(dead),
                float(end),
                look,
                float(np.clip(size * rng.uniform(0.06, 0.2), 0.7, 4)),
                lobes,
                cracks,
                float(rng.uniform(0.6, 1.6)),
            )
        )
    return tuple(made)


def _cracks(rng, solid, form, length, width):
    made: list[Crack] = []
    for end in "AB":
        if rng.random() < 0.3:
            continue
        for _ in range(int(rng.integers(1, 6))):
            y = rng.uniform(8, width - 8)
            reach = float(np.clip(rng.lognormal(np.log(55), 0.8), 8, 450))
            gape = float(np.clip(rng.lognormal(np.log(0.6), 0.6), 0.12, 3.0))
            through = rng.random() < 0.35
            faces = (1, 2) if through else (int(rng.integers(1, 3)),)
            kind = "split" if through and gape > 0.5 else "check"
            made.append(end_crack(rng, solid, form, end, y, faces, reach, gape, kind))
    for face in (1, 2):
        if rng.random() < 0.4:
            for _ in range(int(rng.integers(1, 3))):
                x, y = rng.uniform(100, length - 100), rng.uniform(15, width - 15)
                gape = float(np.clip(rng.lognormal(np.log(0.45), 0.5), 0.12, 1.5))
                made += face_checks(rng, solid, form, face, x, y, int(rng.integers(1, 9)), gape)
    if rng.random() < 0.12:
        face = int(rng.integers(1, 3))
        one = shake(
            rng, solid, form, face, rng.uniform(0, length * 0.6), rng.uniform(25, width - 25),
            rng.uniform(80, 400), rng.uniform(0.3, 1.2),
        )  # fmt: skip
        made += [one] if one else []
    return tuple(made)
