"""What a change saves, in words, in each of its kinds."""

import pytest

from scanner.lot.savings import Gain, gain_words


def saved(**what):
    nothing = {"placed": 0, "boards": 0, "spares": 0, "area_mm2": 0.0, "board_feet": 0.0}
    return Gain(**(nothing | what))


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ({}, "saves nothing"),
        ({"placed": 1}, "places 1 part more"),
        ({"placed": 2, "boards": -1}, "places 2 parts more, opens 1 more board"),
        ({"boards": 1, "spares": -2}, "saves 1 board, places 2 spares fewer"),
        ({"boards": -3, "spares": 1}, "opens 3 more boards, places 1 spare more"),
        ({"area_mm2": 1e6, "board_feet": 4.25}, "4.2 board feet less opened"),
        ({"area_mm2": -1e6, "board_feet": -4.25}, "4.2 board feet more opened"),
        ({"area_mm2": 10.0, "board_feet": 0.1}, "saves nothing"),
    ],
)
def test_what_is_saved_is_said_and_what_it_costs_too(what, said):
    assert gain_words(saved(**what)) == said
