"""A problem stays the same problem on its way between processes."""

import pickle

import pytest

from scanner.errors import LotError, PhotoError, ScannerError


@pytest.mark.parametrize("kind", [ScannerError, PhotoError, LotError])
def test_a_problem_survives_the_way_from_another_process(kind):
    problem = pickle.loads(pickle.dumps(kind("a.jpg shows no rule", "lay one beside the board")))
    assert type(problem) is kind
    assert str(problem) == "a.jpg shows no rule: lay one beside the board."
    assert (problem.what, problem.mend) == ("a.jpg shows no rule", "lay one beside the board")
