"""A first layout: board after board, each with the best of what is still wanted."""

from collections.abc import Callable, Sequence

from scanner.placement.choosing.choice import Choice
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.patterns import Pattern
from scanner.placement.wanted.items import Floats, Ints

# It is shown when it holds so many boards, then so many times as many: a large lot takes seconds,
# and showing it takes a third of them where it is shown at each doubling.
FIRST_SHOWN, _SHOWN_AGAIN = 20, 4


def board_after_board(
    pool: Pool,
    order: Sequence[int],
    lay_out: Callable[[int, Floats, Ints], Pattern],
    is_late: Callable[[], bool],
    show: Callable[[Choice], None],
) -> dict[int, Pattern]:
    """Return a pattern for each board in order, or for those that time allowed; one at least."""
    left = pool.wanted.copy()
    choice: dict[int, Pattern] = {}
    shown = FIRST_SHOWN
    for board in order:
        choice[board] = lay_out(board, pool.value, left)
        left = left - choice[board].counts
        if len(choice) == shown:
            show(choice)
            shown *= _SHOWN_AGAIN
        if is_late():
            break
    return choice
