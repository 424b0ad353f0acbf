"""The errand "what does the file look like": a JSON Schema by name."""

from typing import Any

from scanner.errors import SettingsError
from scanner.files.schemas import schema


def schema_of(name: str) -> dict[str, Any]:
    """Return the JSON Schema of ``board``, ``layout`` or ``parts``."""
    match name:
        case "board" | "layout" | "parts":
            return schema(name)
    raise SettingsError(f'there is no schema "{name}"', "ask for board, layout or parts")
