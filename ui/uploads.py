"""What was chosen and typed for a new board, until it is scanned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.app.scan_request import TypedOptions


@dataclass(frozen=True, slots=True)
class Upload:
    """A chosen photo: the user's name for it, and its bytes."""

    name: str
    content: bytes


def typed_facts(species: str, thickness: str, rule: str, taped: str) -> Callable[[], TypedOptions]:
    """Return what was typed, made into options only when the scan begins.

    Empty texts were not typed.
    """

    def options() -> TypedOptions:
        from scanner.app.scan_request import TypedOptions

        return TypedOptions(
            thickness=thickness.strip() or "4/4",
            species=species.strip() or "unknown",
            rule=rule.strip() or None,
            taped=taped.strip() or None,
        )

    return options
