"""The parts list and the drawings of its curved parts, as a lot keeps them."""

from collections.abc import Mapping
from dataclasses import dataclass

# Outlines, mm, grain along x, by the names of their drawings.
Drawings = Mapping[str, tuple[tuple[float, float], ...]]
# The name of the fact.
DRAWINGS = "drawings"


@dataclass(frozen=True, slots=True)
class PartsText:
    """The parts list as the user gave it: file name and text, read anew by `files`."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """The fact `DRAWINGS`."""

    outlines: Drawings
