"""Absorption of the wood at places of a solid: rings, heart and sap, branches."""

import numpy as np

from tests.render_two.noise import ease
from tests.render_two.pigment import KNOT, ROTTEN, TAR, absorption, linear


def late_wood(species, year):
    """Return how much of a place is late wood, 0-1: sharp at a ring's end, soft at its start."""
    phase = year - np.floor(year)
    if species.early < 0.45:
        late = ease(phase, species.early * 0.6, species.early + 0.3)
        return late * (1 - ease(phase, 0.97, 1.0) * 0.3)
    if species.early > 0.7:
        return np.exp((phase - 1) / 0.10)
    return phase ** (2.2 if species.name == "cherry" else 1.4)


def absorbed(plank, wood, streak):
    """Return absorption over scattering (n, 3); ``streak`` is the fibres' own noise (n,)."""
    species = plank.species
    heart, sap = absorption(linear(species.heart)), absorption(linear(species.sap))
    left = plank.bark_year - wood.year
    ripe = ease(left, plank.sap_years - 0.8, plank.sap_years + 1.2)[:, None]
    base = sap + (heart - sap) * ripe
    tint = plank.solid.stem.tints[
        np.clip(wood.year.astype(int), 0, len(plank.solid.stem.tints) - 1)
    ]
    late = late_wood(species, wood.year)
    strength = species.contrast * (late - 0.35) + 0.035 * tint
    strength = strength + species.streaky * streak * (0.5 + 0.5 * ripe[:, 0])
    k = base * np.exp(1.6 * strength)[:, None]
    k = k + (0.35 * wood.near**2 * np.clip(1 + 0.3 * streak, 0.4, 1.6))[:, None] * (
        KNOT * 0.4 + heart
    )
    inside = np.flatnonzero(wood.branch >= 0)
    if inside.size:
        k[inside] = _branch_wood(plank, wood, inside, k[inside], heart, streak)
    return k


def _branch_wood(plank, wood, at, around, heart, streak):
    number, rel, rho = wood.branch[at], wood.rel[at], wood.rho[at]
    bearing, stub, bark = wood.bearing[at], wood.stub[at], wood.bark[at]
    branches = plank.solid.branches
    ring_mm = np.array([b.ring_mm for b in branches])[number]
    tone = np.array([0.35 + 0.75 * ((b.ring_mm * 997) % 1) for b in branches])[number]
    age = rho / ring_mm * (1 + 0.06 * np.cos(bearing + tone * 9))
    phase = age - np.floor(age)
    k = heart * (1.0 + 0.7 * tone)[:, None] + KNOT * (tone * (0.55 + 0.7 * phase**2))[:, None]
    k = k * (1 + 0.5 * ease(rel, 0.75, 1.0) + 0.5 * np.exp(-((rho / 1.5) ** 2)))[:, None]
    k = np.where(stub[:, None], k * 1.25, k)
    fibre = np.sin(rho * 7 + 3 * np.sin(bearing * 3)) * np.sin(bearing * 17 + rho * 0.7)
    k = k * np.exp(0.16 * fibre + 0.10 * streak[at])[:, None]
    crumb = 0.6 + 0.5 * np.sin(5 * bearing + tone * 30) * np.sin(11 * bearing + tone * 50)
    k = np.where(bark[:, None], TAR * np.clip(crumb, 0.25, 1.2)[:, None], k)
    hollow = np.array([b.look == "hollow" for b in branches])[number]
    gone = hollow & (rel < 0.5 + 0.1 * np.cos(2 * bearing + tone * 20))
    rim = hollow & ~gone & (rel < 0.8)
    k = np.where(rim[:, None], ROTTEN * 1.3, k)
    k = np.where(gone[:, None], TAR * 3.0, k)
    for n, branch in enumerate(branches):
        for way, opening in branch.cracks:
            off = np.arctan2(np.sin(bearing - way), np.cos(bearing - way))
            slit = (number == n) & (np.abs(off) < 1.2) & (np.abs(np.sin(off)) * rho < opening / 2)
            slit &= rel < 0.9
            k[slit] = TAR * 2.5
    # A sound knot has grown into the wood around it: no hard rim.
    soft = np.array([b.look in ("sound", "cracked") for b in branches])[number]
    blend = np.where(soft, ease(rel, 0.93, 1.0) * 0.6, 0.0)[:, None]
    return k * (1 - blend) + around * blend
