"""Calls that many designs have in common, made once: the designs of a sweep share most of what they say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeVar

from solver.design.errors import DesignError

T = TypeVar("T")
_BY_VALUE = frozenset((str, int))


class Calls(Protocol):
    """How a function of tables, tuples, text and whole numbers is called."""

    def __call__(self, function: Callable[..., T], *things: Any) -> T: ...


def each_time(function: Callable[..., T], *things: Any) -> T:
    """Call it."""
    return function(*things)


class Once:
    """Calls each function of the same things once, also where it raises DesignError.

    Text and whole numbers are the same by value, all else only as one object: to compare it would cost as much as the
    call. What was called with is kept, so that no other object can take its identity.
    """

    def __init__(self) -> None:
        self._kept: dict[tuple[Any, ...], tuple[Any, tuple[Any, ...]]] = {}

    def __call__(self, function: Callable[..., T], *things: Any) -> T:
        # By exact type: True and 1 are equal, and are not written alike. No count is below 0, as identities are here.
        key = (function, *[thing if type(thing) in _BY_VALUE else ~id(thing) for thing in things])
        found = self._kept.get(key)
        if found is None:
            found = self._kept[key] = _ending(function, things), things
        ending = found[0]
        if isinstance(ending, DesignError):
            raise ending.with_traceback(None)
        value: T = ending
        return value


def _ending(function: Callable[..., Any], things: tuple[Any, ...]) -> Any:
    """What a call gives, or the DesignError that it raises."""
    try:
        return function(*things)
    except DesignError as fault:
        return fault
