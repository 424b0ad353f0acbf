"""Values for the browser: frozen dataclasses as plain dicts, without copying what they hold."""

from __future__ import annotations

from dataclasses import is_dataclass
from typing import Any


def as_data(value: Any) -> dict[str, Any]:  # noqa: ANN401 (any dataclass)
    """Return a dataclass as a dict that JSON can carry.

    As `dataclasses.asdict`, but the values are shared and not copied: a ring of corners is as
    frozen as the dataclass that holds it, and copying rings took most of the time of a tap.
    """
    return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}


def _plain(value: Any) -> Any:  # noqa: ANN401 (any value)
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        # All of a sort: corners stay as they are, dataclasses become dicts.
        if value and (is_dataclass(value[0]) or isinstance(value[0], dict)):
            return [_plain(one) for one in value]
        return value
    return as_data(value) if is_dataclass(value) else value
