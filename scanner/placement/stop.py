"""When a search ends: after seconds, after steps, or when somebody says so."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol


class Stop(Protocol):
    """A rule that ends a search; ``steps`` counts the search steps done so far."""

    def start(self) -> None:
        """Begin to count."""

    def is_over(self, steps: int) -> bool:
        """Whether the search should end now."""

    def share(self, steps: int) -> float:
        """Return how much of the search is done, 0 to 1; 0 where that cannot be told."""

    def seconds_left(self, steps: int) -> float:
        """Return the seconds left, infinite where time plays no part."""


@dataclass(slots=True)
class Clock:
    """Counts search steps (one board laid out anew = one step) against the stop rule."""

    stop: Stop
    steps: int = 0
    _begin: tuple[float, float] = field(
        default_factory=lambda: (time.monotonic(), time.process_time())
    )

    def is_over(self) -> bool:
        """Whether the search should end."""
        return self.stop.is_over(self.steps)

    def seconds_for(self, cpu_seconds: float) -> float:
        """Return how long by the wall clock so many seconds of work take, or what is left if less.

        As the machine has been sharing its time: on a busy one longer than on an idle one, so that
        the same is done. Infinity where time plays no part.
        """
        left = self.stop.seconds_left(self.steps)
        if left == float("inf"):
            return left
        by_wall, worked = time.monotonic() - self._begin[0], time.process_time() - self._begin[1]
        return min(left, cpu_seconds * max(1.0, by_wall / max(worked, 1e-3)))


class Seconds:
    """Stop after a time on the clock: more on a faster machine, so not repeatable."""

    def __init__(self, seconds: float) -> None:
        if not seconds > 0:
            raise ValueError(f"seconds must be positive, got {seconds}")
        self.seconds = seconds
        self._begin = time.monotonic()

    def start(self) -> None:
        """Begin to count."""
        self._begin = time.monotonic()

    def is_over(self, steps: int) -> bool:
        """Whether the time is used up."""
        return self.seconds_left(steps) <= 0

    def share(self, steps: int) -> float:
        """Return the share of the time that is used up."""
        return min(1.0, 1.0 - self.seconds_left(steps) / self.seconds)

    def seconds_left(self, steps: int) -> float:
        """Return the seconds left."""
        return self._begin + self.seconds - time.monotonic()


class Work:
    """Stop after a number of search steps (one board laid out anew = one step): repeatable."""

    def __init__(self, steps: int) -> None:
        if steps < 1:
            raise ValueError(f"work must be at least 1 step, got {steps}")
        self.steps = steps

    def start(self) -> None:
        """Begin to count."""

    def is_over(self, steps: int) -> bool:
        """Whether the steps are done."""
        return steps >= self.steps

    def share(self, steps: int) -> float:
        """Return the share of the steps done."""
        return min(1.0, steps / self.steps)

    def seconds_left(self, steps: int) -> float:
        """Return infinity: a repeatable search must not look at the clock."""
        return float("inf")


class WhenSaid:
    """Stop when a function says so, such as ``threading.Event().is_set``."""

    def __init__(self, is_said: Callable[[], bool]) -> None:
        self.is_said = is_said

    def start(self) -> None:
        """Begin to count."""

    def is_over(self, steps: int) -> bool:
        """Whether somebody said stop."""
        return self.is_said()

    def share(self, steps: int) -> float:
        """Return 0: nobody knows when it will be said."""
        return 0.0

    def seconds_left(self, steps: int) -> float:
        """Return infinity: nobody knows when it will be said."""
        return float("inf")


class AnyOf:
    """Stop as soon as one of several rules says so."""

    def __init__(self, *stops: Stop) -> None:
        if not stops:
            raise ValueError("at least one stop rule is needed")
        self.stops = stops

    def start(self) -> None:
        """Begin to count."""
        for stop in self.stops:
            stop.start()

    def is_over(self, steps: int) -> bool:
        """Whether one of the rules says so."""
        return any(stop.is_over(steps) for stop in self.stops)

    def share(self, steps: int) -> float:
        """Return the share of the rule that is furthest on."""
        return max(stop.share(steps) for stop in self.stops)

    def seconds_left(self, steps: int) -> float:
        """Return the shortest time left."""
        return min(stop.seconds_left(steps) for stop in self.stops)


class Watched:
    """A stop rule that tells the progress while it is asked."""

    def __init__(self, stop: Stop, progress: Callable[[float], None] | None) -> None:
        self._stop = stop
        self._progress = progress
        self._said = -1.0

    def start(self) -> None:
        """Begin to count."""
        self._stop.start()

    def is_over(self, steps: int) -> bool:
        """Whether the search should end now."""
        share = self._stop.share(steps)
        if self._progress is not None and share - self._said >= 0.01:
            self._said = share
            self._progress(share)
        return self._stop.is_over(steps)

    def share(self, steps: int) -> float:
        """Return how much of the search is done."""
        return self._stop.share(steps)

    def seconds_left(self, steps: int) -> float:
        """Return the seconds left."""
        return self._stop.seconds_left(steps)


class Steps:
    """Stop at a step, for a short search beside the main one, which may have used up its time.

    Unlike ``Work`` it tells no share: the steps done before it began are none of its own.
    """

    def __init__(self, last: int) -> None:
        self._last = last

    def start(self) -> None:
        """Begin to count."""

    def is_over(self, steps: int) -> bool:
        """Whether the search should end now."""
        return steps >= self._last

    def share(self, steps: int) -> float:
        """Return 0: a short search is not divided."""
        return 0.0

    def seconds_left(self, steps: int) -> float:
        """Return infinity: it does not look at the clock."""
        return float("inf")


class Earlier:
    """Another rule's end, brought forward by some seconds where that rule goes by time."""

    def __init__(self, stop: Stop, seconds: float) -> None:
        self._stop = stop
        self._seconds = seconds

    def start(self) -> None:
        """Begin to count."""
        self._stop.start()

    def is_over(self, steps: int) -> bool:
        """Whether the search should end now."""
        return self._stop.is_over(steps) or self.seconds_left(steps) <= 0

    def share(self, steps: int) -> float:
        """Return how much of the whole is done, what comes after the search counted in."""
        return self._stop.share(steps)

    def seconds_left(self, steps: int) -> float:
        """Return the seconds left for the search."""
        return self._stop.seconds_left(steps) - self._seconds
