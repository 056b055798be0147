"""What an iterator yields, kept, so that it can be gone through again; nothing is fetched before it is needed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, TypeVar

T = TypeVar("T")


class Replayed(Generic[T]):
    """What an iterator yields, for as many readers as come."""

    def __init__(self, rest: Iterator[T]) -> None:
        self._rest, self._known = rest, list[T]()

    def __iter__(self) -> Iterator[T]:
        index = 0  # one list may be gone through by several at once
        while True:
            if index == len(self._known):
                for item in self._rest:
                    self._known.append(item)
                    break
                else:
                    return
            yield self._known[index]
            index += 1

    def __bool__(self) -> bool:
        return any(True for _ in self)
