"""A network between two, of which one was trained on from the other.

``python -m scanner.vision.training.blend BEFORE.onnx AFTER.onnx 0.5 OUT.onnx``: what was learned
last is often paid for with what was known before; half way between, most of both is kept.
Source (cited from memory): M. Wortsman and others 2022, "Robust fine-tuning of zero-shot models".
"""

import argparse
from pathlib import Path

from scanner.vision.training.onnx_weights import initialisers, with_values


def blended(before: bytes, after: bytes, share: float) -> bytes:
    """Return the network that has ``share`` (0..1) of ``after`` and the rest of ``before``."""
    old, new = initialisers(before), initialisers(after)
    return with_values(before, {n: (1 - share) * old[n] + share * new[n] for n in old})


def main() -> None:
    """Blend two files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("before", type=Path)
    parser.add_argument("after", type=Path)
    parser.add_argument("share", type=float)
    parser.add_argument("output", type=Path)
    chosen = parser.parse_args()
    both = chosen.before.read_bytes(), chosen.after.read_bytes()
    chosen.output.write_bytes(blended(*both, chosen.share))


if __name__ == "__main__":
    main()
