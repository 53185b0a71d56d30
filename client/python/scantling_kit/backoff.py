"""Pauses between attempts: growing, with jitter, so that a thousand kits do not come back in the same moment.

Common practice of network clients, no source.
"""

import random
from typing import Callable

FIRST_S = 0.1
MOST_S = 5.0
LIMITS_S = 30.0
"""Pause after a refusal for want of room: not to be asked again at once."""


class Backoff:
    """0.1 s, doubling up to 5 s; each shortened by up to half."""

    def __init__(self, uniform: Callable[[float, float], float] = random.uniform) -> None:
        self._uniform = uniform
        self._next_s = FIRST_S

    def reset(self) -> None:
        """The connection has proved itself."""
        self._next_s = FIRST_S

    def pause_s(self, least_s: float = 0.0) -> float:
        """The next pause, at least half of least_s."""
        pause = max(self._next_s, least_s)
        self._next_s = min(2 * self._next_s, MOST_S)
        return self._uniform(pause / 2, pause)
