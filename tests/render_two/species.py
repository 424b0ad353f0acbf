"""What tells the species apart: colour, width of rings, vessels, rays.

Colours and sizes are common knowledge of the trade, no source; they imitate nobody's pictures.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Species:
    """One species; colours are sRGB 0-255 of the rough-sawn face, lengths mm.

    ``early`` is the share of a ring that the early wood takes, ``contrast`` how much darker the
    late wood is (log absorption), ``pores`` vessels a mm2 in early and in late wood, ``ray_mm`` the
    usual height of a ray (0: none seen).
    """

    name: str
    heart: tuple[int, int, int]
    sap: tuple[int, int, int]
    ring_mm: tuple[float, float]
    early: float
    contrast: float
    pores: tuple[float, float]
    vessel_mm: float
    vessel_dark: float
    ray_mm: float
    streaky: float
    sap_mm: float


SPECIES = {
    "oak": Species(
        "oak", (186, 156, 119), (203, 181, 147), (1.2, 4.0), 0.38, 0.16, (0.75, 0.05),
        6.0, 1.5, 16.0, 0.10, 25.0,
    ),
    "ash": Species(
        "ash", (176, 148, 117), (211, 191, 157), (1.3, 4.5), 0.35, 0.22, (0.75, 0.04),
        7.0, 1.1, 0.0, 0.06, 70.0,
    ),
    "walnut": Species(
        "walnut", (111, 84, 65), (193, 168, 136), (1.8, 5.5), 0.5, 0.30, (0.22, 0.09),
        5.0, 1.2, 0.0, 0.16, 16.0,
    ),
    "cherry": Species(
        "cherry", (170, 124, 91), (211, 180, 144), (1.5, 4.5), 0.6, 0.22, (0.5, 0.35),
        1.4, 0.25, 1.5, 0.10, 25.0,
    ),
    "maple": Species(
        "maple", (186, 156, 121), (217, 195, 162), (1.2, 4.0), 0.8, 0.34, (0.5, 0.4),
        1.4, 0.2, 1.2, 0.07, 90.0,
    ),
}  # fmt: skip
