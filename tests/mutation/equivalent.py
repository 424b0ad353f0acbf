"""Faults that change nothing anybody could see, each with the argument why."""

from tests.mutation.changes import Mutant

# (module, the line's text, the change): why no input tells it from the code as it is.
EQUIVALENT: dict[tuple[str, str, str], str] = {}


def is_equivalent(module: str, mutant: Mutant) -> bool:
    """Whether a fault is argued to be none."""
    return (module, mutant.text, mutant.change) in EQUIVALENT
