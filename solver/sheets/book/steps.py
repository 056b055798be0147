"""Steps of the build order, and what each makes, uses and mounts."""

from __future__ import annotations

from dataclasses import dataclass

from solver.sheets.book.turns import TurnCheck


@dataclass(frozen=True)
class Operation:
    """One thing to do: what is there afterwards that was not, what is needed for it, and what of that is put on the
    model, or on a part of it, to stay."""

    text: str
    makes: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    mounts: tuple[str, ...] = ()


@dataclass(frozen=True)
class BuildStep:
    """A step of the work: its heading, what to do in order, and the turn counts that must come out before going on."""

    title: str
    work: tuple[Operation, ...]
    checks: tuple[TurnCheck, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """What to do, in words."""
        return tuple(one.text for one in self.work)

    @property
    def makes(self) -> tuple[str, ...]:
        """What is there after the step that was not before."""
        return tuple(name for one in self.work for name in one.makes)

    @property
    def uses(self) -> tuple[str, ...]:
        """What has to be there before the step, once each; what is mounted too."""
        return tuple(dict.fromkeys(name for one in self.work for name in (*one.uses, *one.mounts)))

    @property
    def mounts(self) -> tuple[str, ...]:
        """What is put on to stay, in order."""
        return tuple(name for one in self.work for name in one.mounts)
