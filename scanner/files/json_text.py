"""Write JSON that a person can read: one field a line, one row of a list a line."""

import json
from collections.abc import Mapping
from typing import Any


def rounded(value_mm: float) -> float:
    """Return a length for a file: to 0.01 mm, never minus zero."""
    return round(float(value_mm), 2) + 0.0


def significant(value: float, digits: int = 6) -> float:
    """Return a ratio or scale with this many significant digits."""
    return float(f"{value:.{digits}g}")


def json_text(record: Mapping[str, Any]) -> str:
    """Return the record as UTF-8 JSON text; lists of records get one line a row."""
    lines = []
    for name, value in record.items():
        head = f"  {_plain(name)}: "
        if isinstance(value, (list, tuple)) and value and isinstance(value[0], Mapping):
            rows = ",\n".join(f"    {_plain(row)}" for row in value)
            lines.append(f"{head}[\n{rows}\n  ]")
        elif isinstance(value, Mapping) and value and _is_deep(value):
            rows = ",\n".join(f"    {_plain(key)}: {_plain(item)}" for key, item in value.items())
            lines.append(f"{head}{{\n{rows}\n  }}")
        else:
            lines.append(f"{head}{_plain(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _is_deep(value: Mapping[str, Any]) -> bool:
    return any(isinstance(item, (Mapping, list, tuple)) for item in value.values())


def _plain(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
