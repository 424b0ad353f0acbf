"""The weights in an ONNX file, read and changed in place in the file's own wire format.

Protocol buffers; field numbers from onnx.proto3 of the ONNX project. Whoever trains needs no
package for it, and what is not changed stays byte for byte.
"""

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

# Field numbers: ModelProto.graph, GraphProto.initializer, and of a TensorProto.
_GRAPH, _INITIALISER = 7, 5
DIMS, DATA_TYPE, FLOAT_DATA, NAME, RAW_DATA = 1, 2, 4, 8, 9
FLOAT, FLOAT16 = 1, 10
VARINT, BYTES = 0, 2
# Two weights that are nearer than this are one weight, rounded.
_ROUNDED = 1e-5


def initialisers(model: bytes) -> dict[str, NDArray[np.float32]]:
    """Return an ONNX file's weights by name."""
    found = {}
    graphs = (value for number, _, value in fields_of(model) if number == _GRAPH)
    for graph in graphs:
        for number, _, tensor in fields_of(graph):
            if number != _INITIALISER:
                continue
            fields = list(fields_of(tensor))
            name, raw = (
                b"".join(value for n, _, value in fields if n in wanted)
                for wanted in ((NAME,), (RAW_DATA, FLOAT_DATA))
            )
            kind = next((number_of(value) for n, _, value in fields if n == DATA_TYPE), 0)
            if kind in (FLOAT, FLOAT16):
                shape = [number_of(value) for n, _, value in fields if n == DIMS]
                values = np.frombuffer(raw, "<f4" if kind == FLOAT else "<f2")
                found[name.decode()] = values.astype(np.float32).reshape(shape)
    return found


def with_tensors(model: bytes, change: Callable[[bytes], bytes]) -> bytes:
    """Return an ONNX file's bytes with every initialiser's tensor changed."""

    def changed(graph: bytes) -> bytes:
        return b"".join(
            field(number, kind, change(value) if number == _INITIALISER else value)
            for number, kind, value in fields_of(graph)
        )

    return b"".join(
        field(number, kind, changed(value) if number == _GRAPH else value)
        for number, kind, value in fields_of(model)
    )


def put_back(model: bytes, before: bytes) -> bytes:
    """Return an exported network with the weights that did not learn exactly as they were.

    Folding normalisation in and out again rounds some of them by a last digit.

    Parameters
    ----------
    model, before
        ONNX of one shape, as `scanner.vision.training.net.export_onnx` writes it.
    """
    old, new = initialisers(before), initialisers(model)
    same = {n: old[n] for n in new if np.allclose(new[n], old[n], rtol=_ROUNDED, atol=0.0)}
    return with_values(model, same)


def with_values(model: bytes, values: dict[str, NDArray[np.float32]]) -> bytes:
    """Return an ONNX file's bytes with other numbers in initialisers of these names."""

    def changed(tensor: bytes) -> bytes:
        fields = list(fields_of(tensor))
        name = next(value.decode() for number, _, value in fields if number == NAME)
        if name not in values:
            return tensor
        kind = next(number_of(value) for number, _, value in fields if number == DATA_TYPE)
        raw = values[name].astype("<f4" if kind == FLOAT else "<f2").tobytes()
        kept = [f for f in fields if f[0] not in (FLOAT_DATA, RAW_DATA)]
        kept += [(RAW_DATA, BYTES, raw)]
        return b"".join(field(*f) for f in sorted(kept, key=lambda f: f[0]))

    return with_tensors(model, changed)


def fields_of(message: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Yield (field number, wire type, its bytes) of a message."""
    at = 0
    while at < len(message):
        key, at = _varint(message, at)
        kind, begun = key & 7, at
        if kind == VARINT:
            _, at = _varint(message, at)
        elif kind == BYTES:
            size, begun = _varint(message, at)
            at = begun + size
        else:
            at += {1: 8, 5: 4}[kind]
        yield key >> 3, kind, message[begun:at]


def field(number: int, kind: int, value: bytes) -> bytes:
    """Return one field of a message as bytes."""
    size = _packed(len(value)) if kind == BYTES else b""
    return _packed(number << 3 | kind) + size + value


def _varint(message: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = message[at]
        value |= (byte & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if byte < 0x80:
            return value, at


def number_of(value: bytes) -> int:
    """Return the whole number that a field's bytes hold."""
    return _varint(value, 0)[0]


def _packed(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes([*out, value])
