"""The faults are real ones: they compile, differ, and leave sentences alone."""

import ast

import pytest

from tests.mutation.changes import mutants
from tests.mutation.equivalent import EQUIVALENT, source_of

SMALL = '''"""Say something."""
from typing import Annotated
LIMIT: float = 2.0

@decorated(3)
def wide(sizes: Annotated[list, 5], most: float = 10) -> "tuple[int, 7]":
    """Return 4."""
    if not sizes:
        raise ValueError(f"{len(sizes):.1f} of 9 are too few")
    for size in [s for s in sizes if s]:
        if abs(size) < most and size != -1:
            continue
        total = min(size, 2) + 1
        total += size
    return total is None or True
'''


def test_every_kind_of_fault_is_put_in_once_and_compiles():
    found = mutants(SMALL)
    plain = ast.unparse(ast.parse(SMALL))
    for mutant in found:
        compile(mutant.source, "mutant", "exec")
        assert mutant.source != plain
    assert len({mutant.source for mutant in found}) == len(found)
    assert {mutant.change for mutant in found} == {
        "2.0 to 3.0", "10 to 11", "Not dropped", "raise dropped",
        "filter dropped", "And to Or", "Lt to LtE", "Lt to GtE", "abs dropped", "NotEq to Eq",
        "USub dropped", "1 to 2", "continue dropped", "min to max", "2 to 3", "Add to Sub",
        "Add to Sub=", "statement dropped", "returns None", "Or to And", "Is to IsNot",
        "True to False",
    }  # fmt: skip


def test_annotations_decorators_and_sentences_are_left_alone():
    for mutant in mutants(SMALL):
        for kept in (
            "decorated(3)",
            "Annotated[list, 5]",
            "tuple[int, 7]",
            "Return 4.",
            ":.1f} of 9",
        ):
            if mutant.change != "raise dropped" or kept != ":.1f} of 9":
                assert kept in mutant.source, mutant


@pytest.mark.parametrize(("module", "text", "change"), list(EQUIVALENT))
def test_a_fault_that_is_argued_away_is_one_that_can_be_put_in(module, text, change):
    lines = [line.strip() for line in source_of(module).splitlines()]
    assert text in lines, f"{module} has no such line any more: take the argument out"
    assert EQUIVALENT[module, text, change]
