"""What was chosen and typed for a new board, until it is scanned."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanner.app.scanning.scan_request import TypedOptions

STRIP_TAPED = "Length of the strip as taped (may be left empty)"
BATTEN = "Thickness of the batten under the strip (empty: it lies on the floor)"


@dataclass(frozen=True, slots=True)
class Upload:
    """A chosen photo: the user's name for it, and its bytes."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class BoardUploads:
    """The photos of one board by face, and the rule's corners where they were tapped, as text."""

    face_1: tuple[Upload, ...]
    face_2: tuple[Upload, ...]
    corners_1: str = ""
    corners_2: str = ""


@dataclass(frozen=True, slots=True)
class TypedFacts:
    """The texts of the form; an empty one was not typed."""

    species: str = ""
    thickness: str = ""
    rule: str = ""
    strip_taped: str = ""
    batten: str = ""
    taped: str = ""
    bow: str = ""
    cup: str = ""
    twist: str = ""

    def options(self) -> TypedOptions:
        """Return what was typed as the scan wants it.

        Raises
        ------
        ScannerError
            Something typed cannot be read; it is named as its field is.
        """
        # Only now: this loads the readers of every option.
        from scanner.app.lot.page_words import read_typed
        from scanner.app.scanning.scan_request import TypedOptions

        options = TypedOptions(
            thickness=self.thickness.strip() or "4/4",
            species=self.species.strip() or "unknown",
            rule=self.rule.strip() or None,
            strip_taped=self.strip_taped.strip() or None,
            batten=self.batten.strip() or None,
            taped=self.taped.strip() or None,
            bow=self.bow.strip() or None,
            cup=self.cup.strip() or None,
            twist=self.twist.strip() or None,
        )
        read_typed("B01", Path("face-1"), Path("face-2"), options)
        return options
