"""Weights of an ONNX file in half precision: half the bytes, the same answers to three digits.

``python -m scanner.vision.training.halve IN.onnx OUT.onnx`` rewrites the float32 initialisers that
are larger than a few numbers as float16, in place in the file's own wire format (protocol buffers;
field numbers from onnx.proto3 of the ONNX project). OpenCV's dnn turns them back into float32 when
it reads them, so what is computed stays in single precision.
"""

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

# Field numbers: ModelProto.graph, GraphProto.initializer, and of a TensorProto.
_GRAPH, _INITIALISER = 7, 5
_DIMS, _DATA_TYPE, _FLOAT_DATA, _NAME, _RAW_DATA = 1, 2, 4, 8, 9
_FLOAT, _FLOAT16 = 1, 10
_VARINT, _BYTES = 0, 2
# Biases and single numbers stay as they are: they are a hundredth of the bytes.
_LEAST_BYTES = 1024


def halved(model: bytes) -> bytes:
    """Return an ONNX file's bytes with its large float32 initialisers as float16."""
    return b"".join(
        _field(number, kind, _graph(value) if number == _GRAPH else value)
        for number, kind, value in _fields(model)
    )


def initialisers(model: bytes) -> dict[str, NDArray[np.float32]]:
    """Return an ONNX file's weights by name."""
    found = {}
    graphs = (value for number, _, value in _fields(model) if number == _GRAPH)
    for graph in graphs:
        for number, _, tensor in _fields(graph):
            if number != _INITIALISER:
                continue
            fields = list(_fields(tensor))
            name, raw = (
                b"".join(value for n, _, value in fields if n in wanted)
                for wanted in ((_NAME,), (_RAW_DATA, _FLOAT_DATA))
            )
            kind = next((_number(value) for n, _, value in fields if n == _DATA_TYPE), 0)
            if kind in (_FLOAT, _FLOAT16):
                shape = [_number(value) for n, _, value in fields if n == _DIMS]
                values = np.frombuffer(raw, "<f4" if kind == _FLOAT else "<f2")
                found[name.decode()] = values.astype(np.float32).reshape(shape)
    return found


def _graph(graph: bytes) -> bytes:
    return b"".join(
        _field(number, kind, _tensor(value) if number == _INITIALISER else value)
        for number, kind, value in _fields(graph)
    )


def _tensor(tensor: bytes) -> bytes:
    fields = list(_fields(tensor))
    types = [_number(value) for number, _, value in fields if number == _DATA_TYPE]
    raw = b"".join(value for number, _, value in fields if number in (_RAW_DATA, _FLOAT_DATA))
    if types != [_FLOAT] or len(raw) < _LEAST_BYTES:
        return tensor
    half = np.frombuffer(raw, "<f4").astype("<f2").tobytes()
    kept = [f for f in fields if f[0] not in (_DATA_TYPE, _FLOAT_DATA, _RAW_DATA)]
    kept += [(_DATA_TYPE, _VARINT, bytes([_FLOAT16])), (_RAW_DATA, _BYTES, half)]
    return b"".join(_field(*field) for field in sorted(kept, key=lambda f: f[0]))


def _fields(message: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Yield (field number, wire type, its bytes) of a message."""
    at = 0
    while at < len(message):
        key, at = _varint(message, at)
        kind, begun = key & 7, at
        if kind == _VARINT:
            _, at = _varint(message, at)
        elif kind == _BYTES:
            size, begun = _varint(message, at)
            at = begun + size
        else:
            at += {1: 8, 5: 4}[kind]
        yield key >> 3, kind, message[begun:at]


def _field(number: int, kind: int, value: bytes) -> bytes:
    size = _packed(len(value)) if kind == _BYTES else b""
    return _packed(number << 3 | kind) + size + value


def _varint(message: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = message[at]
        value |= (byte & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if byte < 0x80:
            return value, at


def _number(value: bytes) -> int:
    return _varint(value, 0)[0]


def _packed(value: int) -> bytes:
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes([*out, value])


def main() -> None:
    """Rewrite one file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("model", type=Path)
    parser.add_argument("output", type=Path)
    chosen = parser.parse_args()
    before = chosen.model.read_bytes()
    after = halved(before)
    chosen.output.write_bytes(after)
    print(f"{len(before)} bytes before, {len(after)} after")


if __name__ == "__main__":
    main()
