"""Ringwright: proven best gearings for ring-gear orreries.

`Design` is a validated design file, `solve` finds its best gearings:

    from solver import Design, solve
    answer = solve(Design.load("runs/configs/saturn-hall.toml"))
"""

from solver.check.judge import judge
from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.train import Link, Train
from solver.search.answer import Answer, Status, solve
from solver.version import VERSION

__version__ = VERSION
__all__ = ["Answer", "Design", "DesignError", "Link", "Status", "Train", "__version__", "judge", "solve"]
