"""What follows from long-lived objects alone (a machine, a knowledge base): worked out once for each of them.

By identity, not by value: to hash a whole machine would cost more than most of what is kept. The objects are held as
long as what was made of them, so that no other one can take their identity.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar, TypeVarTuple

T = TypeVar("T")
Ts = TypeVarTuple("Ts")


def once(keep: int) -> Callable[[Callable[[*Ts], T]], Callable[[*Ts], T]]:
    """Keep what a function makes of its (positional) arguments; beyond `keep` of them all are forgotten."""

    def decorate(make: Callable[[*Ts], T]) -> Callable[[*Ts], T]:
        made: dict[tuple[int, ...], tuple[tuple[*Ts], T]] = {}

        @wraps(make)
        def kept(*args: *Ts) -> T:
            key = tuple(map(id, args))
            found = made.get(key)
            if found is None:
                new = make(*args)
                if len(made) >= keep:
                    made.clear()
                found = made[key] = (args, new)
            return found[1]

        return kept

    return decorate
