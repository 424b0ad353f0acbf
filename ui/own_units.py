"""Sizes typed beside photos: a figure without a unit is meant in the lot's own."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from scanner.units import is_bare, read_quarters

if TYPE_CHECKING:
    from ui.desks import Desk

_TIMES = re.compile(r"\s*[x×]\s*", re.IGNORECASE)


def with_unit(desk: Desk, typed: str) -> str:
    """Return what was typed, such as ``36 x 1 1/8``, with the unit of each size.

    Every reader takes a bare figure for millimetres, so only those of a lot in inches need a word.
    """
    if desk.lot.shop().units != "inch":
        return typed
    pieces = _TIMES.split(typed.strip())
    # A warp may have a sign, or be less than the figure.
    return " x ".join(f"{one} in" if is_bare(one.lstrip("<+-")) else one for one in pieces)


def thickness_with_unit(desk: Desk, typed: str) -> str:
    """Return a thickness as typed, with its unit unless it is a class such as ``4/4``."""
    return typed if read_quarters(typed) is not None else with_unit(desk, typed)


def what_bare_means(desk: Desk) -> str:
    """Return in words what a figure without a unit means in this lot."""
    units = "inches" if desk.lot.shop().units == "inch" else "millimetres"
    return f"A figure without a unit means {units}."
