"""Ringwright: proven best gearings for ring-gear orreries.

`load_design` reads a design file, `solve` finds its best gearings:

    from solver import load_design, solve
    answer = solve(load_design("runs/configs/saturn-hall.toml"))

Names are loaded when they are first used, so that the judge, for one, stands alone.
"""

from __future__ import annotations

from importlib import import_module

from solver.version import VERSION

TYPE_CHECKING = False  # that of `typing`, which takes longer to load than all that is needed here
if TYPE_CHECKING:
    from typing import Any

    from solver.answer.document import Answer, Status
    from solver.answer.solve import solve
    from solver.check.judge import judge
    from solver.design.design import Design
    from solver.design.errors import DesignError
    from solver.design.train import Link, Train
    from solver.files.load import load_design, parse_design

__version__ = VERSION
__all__ = [
    "Answer", "Design", "DesignError", "Link", "Status", "Train", "__version__", "judge", "load_design", "parse_design",
    "solve",
]  # fmt: skip

_HOME = {
    "judge": "solver.check.judge",
    "Design": "solver.design.design",
    "DesignError": "solver.design.errors",
    "load_design": "solver.files.load",
    "parse_design": "solver.files.load",
    "Link": "solver.design.train",
    "Train": "solver.design.train",
    "Answer": "solver.answer.document",
    "Status": "solver.answer.document",
    "solve": "solver.answer.solve",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
