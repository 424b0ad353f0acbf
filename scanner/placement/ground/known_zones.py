"""The zones of a board, worked out once for search, bound and reasons, as long as they are asked.

Drawing the margin round every flaw takes longer than all that is asked of the ground afterwards.
"""

import threading
from collections import OrderedDict

from scanner.board.board import Board
from scanner.placement.parts import Part
from scanner.placement.rules import need_of, zones_of
from scanner.placement.rules.ground import Zone
from scanner.placement.shop import Shop

# Of a photographed board the zones of one need take some tenths of a megabyte.
_MOST_KNOWN = 256

# The board is kept with its zones: its place in memory is its name here.
_known: OrderedDict[object, tuple[Board, tuple[Zone, ...]]] = OrderedDict()
_turn = threading.Lock()


def known_zones(board: Board, part: Part, shop: Shop, show_face: int | None) -> tuple[Zone, ...]:
    """Return all ground of a board that a part, shown on this face, may not take."""
    key = (id(board), need_of(board, part), show_face, shop)
    with _turn:
        if key in _known:
            _known.move_to_end(key)
            return _known[key][1]
    zones = zones_of(board, part, shop, show_face)
    with _turn:
        _known[key] = board, zones
        while len(_known) > _MOST_KNOWN:
            _known.popitem(last=False)
    return zones
