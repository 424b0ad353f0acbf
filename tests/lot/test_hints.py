"""What a maker is told of a group: outer edges that run out, arches that point both ways."""

import math

import numpy as np
import pytest

from scanner.board.assembly import Assembly, Member
from scanner.lot.matching import hints_of, match_of
from scanner.vision.looks.joint_look import EdgeLook, PieceLook


def edge(slope):
    count = 4
    course = np.full(count, math.atan(slope))
    return EdgeLook(course, np.zeros((count, 3)), np.zeros(count))


def look(upper=0.0, lower=0.0, cathedral=0):
    return PieceLook(edge(upper), edge(lower), cathedral)


def group(count, way="edge_to_edge", **more):
    members = (
        Member("top", 1, n + 1, "B01", (0.0, 50.0 * n), (600.0, 50.0), **more) for n in range(count)
    )
    return Assembly("top", way, tuple(members))


def looks(assembly, *seen):
    return {(m.key, 1): one for m, one in zip(assembly.members, seen, strict=True)}


def hints(assembly, *seen):
    return " ".join(hints_of(assembly, looks(assembly, *seen)))


def test_an_outer_edge_whose_grain_runs_out_is_named_and_inner_ones_are_not():
    three = group(3)
    said = hints(three, look(upper=0.1), look(upper=0.3, lower=0.3), look())
    assert "Outer edge of top 1, stave 1: grain runs out at about 1 in 10" in said
    assert said.count("Outer edge") == 1
    assert "Outer edge" not in hints(three, look(lower=0.1), look(), look(upper=0.1))
    # Where nothing is glued no edge is a top's.
    assert "Outer edge" not in hints(group(3, "stacked"), look(upper=0.1), look(), look())


def test_arches_that_point_both_ways_are_named_by_the_fewer():
    three = group(3)
    said = hints(three, look(cathedral=1), look(cathedral=-1), look(cathedral=1))
    assert "Cathedrals point both ways (top 1, stave 2 against the rest)" in said
    assert "Cathedrals" not in hints(three, look(cathedral=1), look(), look(cathedral=1))


@pytest.mark.parametrize("way", ["in_a_row"])
def test_pieces_whose_edges_do_not_meet_have_no_match(way):
    row = group(2, way)
    assert match_of(row, looks(row, look(), look())) is None


def test_a_piece_that_may_not_show_the_face_it_shows_has_no_match():
    two = group(2, face=2, may_show=(1,))
    assert match_of(two, looks(two, look(), look())) is None
    assert match_of(group(1), {}) is None
