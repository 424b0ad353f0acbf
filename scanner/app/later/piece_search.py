"""A photographed piece searched on its boards: scanned, cut out, found, and laid beside each place.

The command and the page both come here; they differ in what they do with the answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.later.piece_on_board import as_it_lay, cut_to_outline, lab_of, stretch_of
from scanner.app.later.piece_wood import prints_of
from scanner.app.scanning.scan_board import scan_photos, setup_of
from scanner.sheets.second_look_pictures import piece_under_board
from scanner.vision.second_look.find_again import find_again
from scanner.vision.second_look.grain_print import grain_print

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    from scanner.app.later.piece_wood import PieceWood
    from scanner.app.scanning.scan_request import ScanRequest
    from scanner.board.flaw import Flaw
    from scanner.board.looks import Lab
    from scanner.vision.photos.picture import FaceScan
    from scanner.vision.second_look.find_again import FoundAgain, PiecePlace

    Progress = Callable[[str, float], None]

# More places than these nobody looks through.
_MOST_PLACES = 5
# The scan's share of the time; the rest goes into the boards' prints and the search on them.
_SCAN_SHARE = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class PieceSearch:
    """A piece as photographed, and where on its boards it may have lain.

    Attributes
    ----------
    pixels, wood
        The piece's picture cut to its outline, shape (H, W, 3), and where it is wood, (H, W).
    """

    wood_of: PieceWood
    scan: FaceScan
    pixels: NDArray[np.uint8]
    wood: NDArray[np.bool_]
    found: FoundAgain

    @property
    def places(self) -> tuple[PiecePlace, ...]:
        """Those worth looking at, best first."""
        return self.found.places[:_MOST_PLACES]

    @property
    def flaws(self) -> tuple[Flaw, ...]:
        """What the piece shows, in its own view as photographed."""
        return self.scan.reading.flaws

    @property
    def lab(self) -> Lab | None:
        """Its colour, None where no white paper lay by it."""
        return lab_of(self.scan)

    def picture_at(self, place: PiecePlace) -> Image.Image:
        """Return the board as scanned, and the piece laid under it, to nod at."""
        stretch = stretch_of(self.wood_of.board(place.board), self.wood_of.picture_of, place)
        return piece_under_board(stretch, as_it_lay(self.pixels, place))


def search_piece(
    request: ScanRequest, wood_of: PieceWood, progress: Progress | None = None
) -> PieceSearch:
    """Scan the photo of a piece (``photos_1``) and look for it on boards that have pictures.

    Raises
    ------
    ScannerError
        No scale, or no piece whose grain can be laid over a board's.
    """
    report = progress or (lambda step, share: None)
    scan = scan_photos(
        request.photos_1,
        setup_of(request, 1, ()),
        lambda step, share: report(step, _SCAN_SHARE * share),
    )
    pixels, wood, size = cut_to_outline(scan)
    report("looking for it on the boards", _SCAN_SHARE)
    prints = [one for board in wood_of.boards for one in prints_of(board, wood_of.picture_of)]
    grain = grain_print(pixels, wood, scan.picture.mm_per_px)
    return PieceSearch(wood_of, scan, pixels, wood, find_again(grain, size, prints, wood_of.cuts))
