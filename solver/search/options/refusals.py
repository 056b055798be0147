"""Refusals: what was learnt of trains that have no place: the few links, with the drive, that leave each other none."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable

Part = Hashable  # a link with its level, rings, kind, wheel and pinion; or the drive
Context = Hashable  # what else matters to whether parts have places: all rings, say


class Refusals:
    """Sets of parts that have no places together, whatever else is in a train."""

    def __init__(self) -> None:
        self._known: dict[Context, dict[Part, list[frozenset[Part]]]] = {}

    def add(self, context: Context, parts: Iterable[Part]) -> None:
        """No train in which all these parts are has a place."""
        first, *rest = parts
        known = self._known.setdefault(context, {}).setdefault(first, [])
        if frozenset(rest) not in known:
            known.append(frozenset(rest))

    def holds(self, context: Context, parts: Collection[Part]) -> bool:
        """Whether a train with these parts is known to have no place."""
        known = self._known.get(context)
        if not known:
            return False
        there = set(parts)
        return any(rest <= there for part in parts for rest in known.get(part, ()))

    def __bool__(self) -> bool:
        return bool(self._known)
