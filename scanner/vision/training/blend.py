"""A network between two, of which one was trained on from the other.

``python -m scanner.vision.training.blend BEFORE.onnx AFTER.onnx 0.5 OUT.onnx``: what was learned
last is often paid for with what was known before; half way between, most of both is kept. But such
a network is less sure of itself: ``--stretch loose 1.53 -0.1`` makes a claim's log odds as wide as
they were.
Source (cited from memory): M. Wortsman and others 2022, "Robust fine-tuning of zero-shot models".
"""

import argparse
from pathlib import Path

from scanner.vision.flaws.learned_maps import CHANNELS
from scanner.vision.training.onnx_weights import initialisers, with_values


def blended(before: bytes, after: bytes, share: float) -> bytes:
    """Return the network that has ``share`` (0..1) of ``after`` and the rest of ``before``."""
    old, new = initialisers(before), initialisers(after)
    return with_values(before, {n: (1 - share) * old[n] + share * new[n] for n in old})


def stretched(model: bytes, claim: str, times: float, more: float) -> bytes:
    """Return the network with one claim's log odds z as ``times`` * z + ``more``."""
    values = initialisers(model)
    head = {name: values[name] for name in values if "head." in name}
    row = CHANNELS.index(claim)
    for value in head.values():
        value[row] *= times
    next(v for v in head.values() if v.ndim == 1)[row] += more
    return with_values(model, head)


def main() -> None:
    """Blend two files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("before", type=Path)
    parser.add_argument("after", type=Path)
    parser.add_argument("share", type=float)
    parser.add_argument("output", type=Path)
    parser.add_argument("--stretch", nargs=3, metavar=("CLAIM", "TIMES", "MORE"))
    chosen = parser.parse_args()
    made = blended(chosen.before.read_bytes(), chosen.after.read_bytes(), chosen.share)
    if chosen.stretch:
        claim, times, more = chosen.stretch
        made = stretched(made, claim, float(times), float(more))
    chosen.output.write_bytes(made)


if __name__ == "__main__":
    main()
