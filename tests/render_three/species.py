"""How the wood of a board looks: colours of early and late wood, contrast, pores, rays, heart."""

from dataclasses import dataclass

import numpy as np

from tests.render_three.fields import linear

# early wood, late wood, sapwood (sRGB); ring contrast; pores: how (ring, spread, none), their
# share, length in mm and how dark; softwood (pitch, strong knots).
_WOODS = {
    "ash": ((214, 190, 152), (190, 160, 120), (226, 208, 178), 0.8, "ring", 0.30, 4.0, 0.45),
    "oak": ((196, 164, 118), (172, 138, 94), (214, 192, 154), 0.7, "ring", 0.28, 5.0, 0.55),
    "elm": ((176, 138, 100), (146, 106, 72), (206, 182, 146), 0.8, "ring", 0.25, 4.0, 0.45),
    "walnut": ((118, 86, 64), (84, 58, 42), (188, 164, 132), 0.6, "spread", 0.05, 3.0, 0.55),
    "maple": ((226, 202, 168), (212, 180, 142), (232, 214, 186), 0.5, "none", 0.0, 1.0, 0.2),
    "birch": ((222, 196, 158), (208, 176, 136), (230, 210, 178), 0.3, "spread", 0.02, 1.5, 0.2),
    "beech": ((206, 166, 130), (186, 142, 104), (214, 180, 146), 0.4, "spread", 0.02, 1.0, 0.25),
    "cherry": ((184, 126, 86), (160, 100, 64), (212, 178, 138), 0.5, "spread", 0.02, 1.2, 0.25),
    "poplar": ((208, 198, 162), (184, 176, 136), (226, 216, 186), 0.4, "none", 0.0, 1.0, 0.2),
    "mahogany": ((142, 100, 78), (116, 76, 58), (194, 162, 132), 0.3, "spread", 0.07, 4.0, 0.5),
    "teak": ((166, 118, 70), (128, 84, 46), (204, 178, 136), 0.7, "ring", 0.12, 4.0, 0.5),
    "wenge": ((92, 66, 48), (50, 36, 28), (190, 166, 134), 0.9, "spread", 0.05, 3.0, 0.4),
    "pine": ((228, 196, 142), (176, 116, 62), (234, 212, 168), 1.0, "soft", 0.0, 1.0, 0.2),
    "larch": ((206, 156, 106), (142, 82, 46), (226, 198, 152), 1.0, "soft", 0.0, 1.0, 0.2),
    "spruce": ((232, 208, 164), (196, 152, 100), (236, 216, 176), 0.8, "soft", 0.0, 1.0, 0.2),
    "cedar": ((172, 122, 92), (126, 80, 58), (222, 196, 158), 0.8, "soft", 0.0, 1.0, 0.2),
}


@dataclass(frozen=True)
class Species:
    """One board's look; colours are linear light (3,) float32."""

    name: str
    early: np.ndarray
    late: np.ndarray
    sap: np.ndarray
    contrast: float
    pores: str
    pore_share: float
    pore_mm: float
    pore_dark: float
    weathered: float

    @property
    def is_softwood(self) -> bool:
        return self.pores == "soft"


def draw_species(rng: np.random.Generator) -> Species:
    """Return the look of one board: a wood, varied as boards of one wood vary."""
    name = str(rng.choice(list(_WOODS)))
    early, late, sap, contrast, pores, share, length, dark = _WOODS[name]
    tone = rng.normal(0, 10)
    tint = rng.normal(0, 3, 3)

    def varied(colour: tuple[int, int, int]) -> np.ndarray:
        r, g, b = np.clip(np.asarray(colour) + tone + tint + rng.normal(0, 2, 3), 8, 245)
        return linear((float(r), float(g), float(b)))

    return Species(
        name=name,
        early=varied(early),
        late=varied(late),
        sap=varied(sap),
        contrast=float(np.clip(contrast * rng.uniform(0.4, 1.5), 0.1, 1.3)),
        pores=pores,
        pore_share=share * rng.uniform(0.5, 1.5),
        pore_mm=length * rng.uniform(0.5, 2.0),
        pore_dark=min(dark * rng.uniform(0.5, 1.5), 0.9),
        weathered=float(rng.uniform(0.3, 1.0)) if rng.random() < 0.12 else 0.0,
    )
