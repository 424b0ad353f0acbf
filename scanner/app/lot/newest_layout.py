"""The layout that an errand about a lot's cuts is about, or the sentence that there is none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.errors import PlacementError

if TYPE_CHECKING:
    from scanner.storage.lots import Lot, SavedLayout


def newest_layout(lot: Lot) -> SavedLayout:
    """Return the lot's newest layout.

    Raises
    ------
    PlacementError
        There is none.
    """
    saved = lot.layout()
    if saved is None:
        raise PlacementError("there is no layout yet", "place the parts first")
    return saved
