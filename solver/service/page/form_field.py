"""What the form is made of: fields, each of which says a field of the design file, and groups of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from solver.service.page.form_values import NUMBER

VARIED = "vary:"  # before the path of a field of the design that a sweep varies
Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Field:
    """A field: its path in the design file, its label, the kind of what is typed in it, and a hint. choices: (value,
    word) where one is chosen. only_if: (path, values) of the choice that decides whether this field counts. unit: in
    which it is read; "length": in that of the design. usual: the value of the file that the empty choice stands for."""

    path: str
    label: str
    kind: str = NUMBER
    hint: str = ""
    choices: Choices = ()
    only_if: tuple[str, str] | None = None
    unit: str = ""
    usual: str = ""

    @property
    def keys(self) -> tuple[str, ...]:
        """The path in the file, key by key."""
        if self.path.startswith(VARIED):
            return ("vary", *self.path.removeprefix(VARIED).split("."))
        return tuple(self.path.split("."))

    @property
    def roomy(self) -> bool:
        """Whether it needs more room than others, so that no choice is cut."""
        return any(len(word) > 21 for _, word in self.choices)

    def counts(self, told: Mapping[str, str]) -> bool:
        """Whether it counts, given what is typed and chosen in all fields."""
        return self.only_if is None or told.get(self.only_if[0], "") in self.only_if[1].split(" ")


@dataclass(frozen=True)
class Group:
    """Fields under one heading. note: what holds for all of them; more: those that are rarely needed, folded below
    more_title. folded: whether the whole group is."""

    name: str
    title: str
    fields: tuple[Field, ...]
    note: str = ""
    more: tuple[Field, ...] = ()
    more_title: str = ""
    folded: bool = False
