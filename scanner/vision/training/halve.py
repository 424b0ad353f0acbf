"""Weights of an ONNX file in half precision: half the bytes, the same answers to three digits.

``python -m scanner.vision.training.halve IN.onnx OUT.onnx`` rewrites the float32 initialisers that
are larger than a few numbers as float16, in place (`onnx_weights`). OpenCV's dnn turns them back
into float32 when it reads them, so what is computed stays in single precision.
"""

import argparse
from pathlib import Path

import numpy as np

from scanner.vision.training.onnx_weights import (
    BYTES,
    DATA_TYPE,
    FLOAT,
    FLOAT16,
    FLOAT_DATA,
    RAW_DATA,
    VARINT,
    field,
    fields_of,
    number_of,
    with_tensors,
)

# Biases and single numbers stay as they are: they are a hundredth of the bytes.
_LEAST_BYTES = 1024


def halved(model: bytes) -> bytes:
    """Return an ONNX file's bytes with its large float32 initialisers as float16."""
    return with_tensors(model, _tensor)


def _tensor(tensor: bytes) -> bytes:
    fields = list(fields_of(tensor))
    types = [number_of(value) for number, _, value in fields if number == DATA_TYPE]
    raw = b"".join(value for number, _, value in fields if number in (RAW_DATA, FLOAT_DATA))
    if types != [FLOAT] or len(raw) < _LEAST_BYTES:
        return tensor
    half = np.frombuffer(raw, "<f4").astype("<f2").tobytes()
    kept = [f for f in fields if f[0] not in (DATA_TYPE, FLOAT_DATA, RAW_DATA)]
    kept += [(DATA_TYPE, VARINT, bytes([FLOAT16])), (RAW_DATA, BYTES, half)]
    return b"".join(field(*f) for f in sorted(kept, key=lambda f: f[0]))


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
