"""Turn frozen values into JSON documents and back, led by their type hints.

The shape of a document is the shape of its dataclass. A field that gets a default may be added
freely: older documents take the default. Any other change of a stored class needs a migration in
`schema.py`.
"""

import dataclasses
import types
from collections.abc import Callable, Mapping
from enum import Enum
from functools import cache, partial
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np
from numpy.typing import NDArray
from shapely import get_coordinates
from shapely.geometry import Polygon

Json = None | bool | int | float | str | list["Json"] | dict[str, "Json"]
T = TypeVar("T")


class DocumentError(ValueError):
    """A stored document does not fit the class it should become."""


def to_document(value: object) -> Json:
    """Return a value (dataclass, polygon, enum, tuple, mapping, plain) as JSON data."""
    match value:
        case Enum():
            return to_document(value.value)
        case None | bool() | int() | float() | str():
            return value
        case Polygon():
            rings = [value.exterior, *value.interiors] if not value.is_empty else []
            return [get_coordinates(ring).tolist() for ring in rings]
        case tuple() | list():
            return [to_document(piece) for piece in value]
        case Mapping():
            return {str(key): to_document(piece) for key, piece in value.items()}
    if dataclasses.is_dataclass(value):
        return {
            field.name: to_document(getattr(value, field.name))
            for field in dataclasses.fields(value)
        }
    raise ValueError(f"{type(value).__name__} has no document form")


def from_document(kind: type[T], document: Json) -> T:
    """Return the value of a class that a document holds.

    Raises
    ------
    DocumentError
        A field is unknown, missing without default, or of another type.
    """
    value: T = _read(kind, document)
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(hint: Any, document: Json) -> Any:  # noqa: ANN401 - a type hint is any object
    return _reader(hint)(document)


@cache
def _reader(hint: Any) -> Callable[[Any], Any]:  # noqa: ANN401
    """Return what reads documents of a type hint; found once, as a lot holds thousands of each."""
    origin, args = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return partial(_read_union, args)
    if origin is Literal:
        return partial(_read_literal, args)
    if origin is tuple:
        return partial(_read_tuple, args)
    if origin is Mapping:
        return partial(_read_mapping, args)
    if hint is Polygon:
        return _read_polygon
    if dataclasses.is_dataclass(hint):
        return partial(_read_dataclass, hint)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return partial(_read_enum, hint)
    return partial(_read_plain, hint)


def _read_literal(args: tuple[Any, ...], document: Json) -> Json:
    if document not in args:
        raise DocumentError(f"{document!r} is none of {args}")
    return document


def _read_mapping(args: tuple[Any, ...], document: Json) -> dict[int | str, Any]:
    if not isinstance(document, dict):
        raise DocumentError(f"a mapping was expected, not {document!r}")
    return {_read_key(args[0], key): _read(args[1], piece) for key, piece in document.items()}


def _read_enum(kind: type[Enum], document: Json) -> Enum:
    try:
        return kind(document)
    except ValueError as error:
        raise DocumentError(str(error)) from error


def _read_plain(hint: Any, document: Json) -> Any:  # noqa: ANN401
    if hint is float and isinstance(document, int | float) and not isinstance(document, bool):
        return float(document)
    # bool is an int to Python, not to us.
    if hint in (bool, int, str, types.NoneType, None) and type(document) is (hint or type(None)):
        return document
    raise DocumentError(f"{document!r} is no {hint}")


def _read_union(args: tuple[Any, ...], document: Json) -> Any:  # noqa: ANN401
    if document is None and type(None) in args:
        return None
    for arg in args:
        if arg is not type(None):
            try:
                return _read(arg, document)
            except DocumentError:
                continue
    raise DocumentError(f"{document!r} fits none of {args}")


def _read_tuple(args: tuple[Any, ...], document: Json) -> tuple[Any, ...]:
    if not isinstance(document, list):
        raise DocumentError(f"a row was expected, not {document!r}")
    if len(args) == 2 and args[1] is Ellipsis:
        return tuple(_read(args[0], piece) for piece in document)
    if len(args) != len(document):
        raise DocumentError(f"{len(args)} entries were expected, not {len(document)}")
    return tuple(_read(arg, piece) for arg, piece in zip(args, document, strict=True))


def _read_key(hint: Any, key: str) -> int | str:  # noqa: ANN401
    try:
        return int(key) if hint is int else key
    except ValueError as error:
        raise DocumentError(f"{key!r} is no number") from error


def _read_polygon(document: Any) -> Polygon:  # noqa: ANN401 (it is found out by reading it)
    try:
        rings = [_read_ring(ring) for ring in document]
        return Polygon(rings[0], rings[1:]) if rings else Polygon()
    except (TypeError, ValueError) as error:
        raise DocumentError(f"an outline cannot be read: {error}") from error


def _read_ring(ring: Any) -> NDArray[np.float64]:  # noqa: ANN401
    # All at once: point by point it was most of what opening a large lot took.
    points = np.array(ring) if ring else np.empty((0, 2))
    if points.ndim != 2 or points.shape[1] != 2 or points.dtype.kind not in "iuf":
        raise ValueError("its points are not all two numbers")
    return points.astype(np.float64)


def _read_dataclass(kind: Any, document: Json) -> Any:  # noqa: ANN401
    if not isinstance(document, dict):
        raise DocumentError(f"{kind.__name__} was expected, not {document!r}")
    hints = _hints(kind)
    unknown = sorted(document.keys() - hints.keys())
    if unknown:
        raise DocumentError(f"{kind.__name__} has no {', '.join(unknown)}")
    try:
        return kind(**{name: _read(hints[name], piece) for name, piece in document.items()})
    except TypeError as error:
        raise DocumentError(str(error)) from error
