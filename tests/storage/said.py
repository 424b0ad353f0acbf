"""Stamps and actions as a page sends them."""

from dataclasses import replace

from scanner.storage.journal import Stamp
from scanner.storage.lots import Action

_count = iter(range(10**6))


def stamp(base=10**6, client="one"):
    return Stamp(f"op-{next(_count)}", base, client)


def saying(state, flaw="F1", board="B01", **by):
    def change(board):
        return board.with_flaws(
            tuple(replace(f, state=state) if f.id == flaw else f for f in board.flaws)
        )

    return Action(stamp(**by), board, f"{flaw} is {state}", change)
