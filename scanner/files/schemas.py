"""The JSON Schemas of our files, from the same models that read them."""

from typing import Any, Literal

from scanner.files.board_rows import BoardRow
from scanner.files.layout_file import LayoutRow
from scanner.files.parts_list import PartsRow
from scanner.files.rows import Row

SchemaName = Literal["board", "layout", "parts"]
_MODELS: dict[str, type[Row]] = {"board": BoardRow, "layout": LayoutRow, "parts": PartsRow}


def schema(name: SchemaName) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of ``board``, ``layout`` or ``parts``."""
    found = _MODELS[name].model_json_schema(by_alias=True, mode="validation")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found}
