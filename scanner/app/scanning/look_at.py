"""The errand "look at a flat picture": outline and possible flaws in the picture's own pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.errors import SettingsError
from scanner.files.json_text import json_text
from scanner.files.write import refuse_given, refuse_unwritable, write_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from scanner.board.flaw import Flaw
    from scanner.vision.flat_face import Along
    from scanner.vision.photos.picture import FacePicture

    Finder = Callable[[FacePicture, Polygon], tuple[Flaw, ...]]
    Ring = tuple[tuple[float, float], ...]

# Coarser than this small knots are a few pixels; finer ones are no picture of a board.
_FINEST_MM, _COARSEST_MM = 0.02, 1.5


@dataclass(frozen=True, slots=True)
class SeenFlaw:
    """A possible flaw; ``outline`` in pixels of the picture."""

    kind: str
    sound: bool | None
    outline: Ring
    score: float | None


@dataclass(frozen=True, slots=True)
class Looked:
    """What was seen: the axis that the board runs along, its outline, its possible flaws; px."""

    along: Along
    outline: Ring
    flaws: tuple[SeenFlaw, ...]

    def json(self) -> str:
        """Return it as JSON text."""
        return json_text(
            {
                "along": self.along,
                "outline": self.outline,
                "flaws": [
                    {
                        "kind": flaw.kind,
                        "sound": flaw.sound,
                        "outline": flaw.outline,
                        "score": flaw.score,
                    }
                    for flaw in self.flaws
                ],
            }
        )


def look_at(
    picture: Path, mm_per_px: float, output: Path | None = None, finder: Finder | None = None
) -> Looked:
    """Look over a picture that is already flat, and write what was found where a file is named.

    Parameters
    ----------
    picture
        One face square on (flatbed scanner, line camera), the board along either axis.
    mm_per_px
        Its scale, the same both ways.
    output
        JSON file to write.
    finder
        Instead of the learned finder: how the benches compare ways.

    Raises
    ------
    ScannerError
        No picture, a scale that cannot be meant, nothing that looks like a board.
    """
    # Vision loads only here: asking for --help stays quick.
    from scanner.vision.flat_face import read_flat
    from scanner.vision.flaws.learned import find_on_flat
    from scanner.vision.photos.photo import read_flat_pixels

    if not _FINEST_MM <= mm_per_px <= _COARSEST_MM:
        raise SettingsError(
            f"--mm-per-px {mm_per_px:g} is no scale of a flat picture",
            f"give millimetres a pixel, from {_FINEST_MM:g} to {_COARSEST_MM:g}"
            " (a scan at 300 dpi has 0.0847)",
        )
    if output is not None:
        refuse_given(output, picture, ending=".json", holds=("along", "outline", "flaws"))
        refuse_unwritable(output.parent)
    flat = read_flat(read_flat_pixels(picture), mm_per_px)
    flaws = (finder or find_on_flat)(flat.picture, flat.outline)

    def ring(shape: Polygon) -> Ring:
        return _rounded(flat.picture_px(_corners(shape)))

    looked = Looked(
        flat.along,
        ring(flat.outline),
        tuple(
            SeenFlaw(flaw.kind.value, flaw.sound, ring(flaw.outlines[1]), flaw.score)
            for flaw in flaws
        ),
    )
    if output is not None:
        write_files(output.parent, {output.name: looked.json().encode()})
    return looked


def _corners(shape: Polygon) -> NDArray[np.float64]:
    import numpy as np

    return np.asarray(shape.exterior.coords, dtype=np.float64)[:-1]


def _rounded(points: NDArray[np.float64]) -> Ring:
    return tuple((round(float(x), 1), round(float(y), 1)) for x, y in points)
