"""A board's outlines go to a window once: later data names them, as each tap brings all data anew.

They are most of what a board is drawn from, and few taps change one.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import blake2b
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from scanner.app.nodding.seen_face import Ring

_NAME_BYTES = 8


class Shapes:
    """Names for the outlines of boards, and those that a window lacks.

    A name is made of the corners, so it means the same after a restart of the server.

    Attributes
    ----------
    lacking
        What was named and is not held, by name: the outline of each face, and the rings of each
        flaw by face, in the order in which the board's data has them; mm in the frame a person
        sees.
    """

    def __init__(self, held: Iterable[str]) -> None:
        self._held = frozenset(held)
        self.lacking: dict[str, dict[str, list[Any]]] = {}

    def named(
        self, faces: Iterable[dict[str, Any]], flaws: Iterable[dict[str, Any]]
    ) -> dict[str, Any]:
        """Return faces and flaws of a board without their outlines, and what these are called."""
        bare_faces, bare_flaws = [dict(face) for face in faces], [dict(flaw) for flaw in flaws]
        outlines = [face.pop("outline") for face in bare_faces]
        rings = [flaw.pop("rings") for flaw in bare_flaws]
        corners = [_digest(ring) for ring in outlines]
        corners += [f"{face}{_digest(ring)}" for flaw in rings for face, ring in flaw.items()]
        # Flaws are told apart: a ring that changes its flaw is another drawing.
        corners.append(",".join(str(len(flaw)) for flaw in rings))
        name = blake2b("|".join(corners).encode(), digest_size=_NAME_BYTES).hexdigest()
        if name not in self._held:
            self.lacking[name] = {"outlines": outlines, "rings": rings}
        return {"faces": bare_faces, "flaws": bare_flaws, "shapes": name}


def held_by(outbox: Mapping[str, Any]) -> list[str]:
    """Return the names of the outlines that a window says it holds, as it sent them."""
    held = outbox.get("shapes")
    return [name for name in held if isinstance(name, str)] if isinstance(held, list) else []


# The same few hundred rings are asked for at every tap.
@lru_cache(maxsize=16384)
def _digest(ring: Ring) -> str:
    return blake2b(repr(ring).encode(), digest_size=_NAME_BYTES).hexdigest()
