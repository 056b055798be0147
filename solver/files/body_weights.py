"""What bodies weigh, from the table [bodies]: of all in one table, or of an own body beside it."""

from __future__ import annotations

from fractions import Fraction

from solver.design.errors import single, suggestion
from solver.files.bodies import bodies_of
from solver.files.schema import BodiesTable


def weights_of(table: BodiesTable) -> tuple[tuple[str, Fraction], ...]:
    """Name and weight [g] of each body that the file weighs, by name. Raises DesignError."""
    names = [body.name for body in bodies_of(table)]
    found = {}
    for name, grams in table.grams.items():
        if name not in names:
            near = suggestion(name, names) or "; the bodies are " + ", ".join(names)
            raise single(f"bodies.grams.{name}", float(grams), f"no such body{near}")
        found[name] = grams
    for index, entry in enumerate(table.own):
        if entry.grams is None:
            continue
        if entry.name in found:
            raise single(f"bodies.list[{index}].grams", float(entry.grams), "bodies.grams says it too; write one")
        found[entry.name] = entry.grams
    return tuple(sorted(found.items()))
