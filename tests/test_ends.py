"""Packages whose insides we know have an upper bound, and can be tested at both ends of what is allowed."""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest
from both_ends import bounds, chosen_tests

ROOT = Path(__file__).resolve().parents[1]
# Made to be subclassed, and documented so.
OPEN = {"pydantic.BaseModel", "reportlab.platypus.Flowable", "ortools.sat.python.cp_model.CpSolverSolutionCallback"}


def foreign_bases() -> dict[str, str]:
    """Each class of another package, not of the standard library, that one of ours derives from, and where."""
    found = {}
    for folder in ("solver", "constraints"):
        for file in sorted((ROOT / folder).rglob("*.py")):
            tree = ast.parse(file.read_text(encoding="utf-8"))
            names = {}
            for node in ast.walk(tree):
                if isinstance(node, ast.ImportFrom) and node.module:
                    names |= {alias.asname or alias.name: f"{node.module}.{alias.name}" for alias in node.names}
                elif isinstance(node, ast.Import):
                    names |= {alias.asname or alias.name.split(".")[0]: alias.name for alias in node.names}
            for node in ast.walk(tree):
                for base in node.bases if isinstance(node, ast.ClassDef) else []:
                    first, _, rest = ast.unparse(base).partition("[")[0].partition(".")
                    name = names.get(first, "") + (f".{rest}" if rest else "")
                    package = name.partition(".")[0]
                    if package and package not in {*sys.stdlib_module_names, "solver", "constraints"}:
                        found[name] = f"{file.relative_to(ROOT)}:{node.lineno}"
    return found


@pytest.mark.deep
def test_a_package_whose_classes_are_subclassed_has_an_upper_bound():
    found = foreign_bases()
    assert "uvicorn.Server" in found and "uvicorn.protocols.http.h11_impl.H11Protocol" in found
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for name, where in found.items():
        package = name.partition(".")[0]
        if name not in OPEN:
            assert re.search(rf'"{package}>=[\d.]+,<[\d.]+"', text), f"{where} derives from {name}, which is not capped"


def test_both_ends_of_a_package_are_asked_for():
    for package in ("ortools", "uvicorn"):
        oldest, all_of_them = bounds(package)
        first = re.match(rf"{package}==([\d.]+)\.\*$", oldest)[1]
        assert re.match(rf"{package}>={re.escape(first)},<[\d.]+$", all_of_them)
    with pytest.raises(SystemExit, match=r"pyproject.toml has no range for fastapi"):
        bounds("fastapi")


def test_the_chosen_tests_the_service_are_enough_for_what_only_it_needs():
    assert chosen_tests(["ortools", "uvicorn"]) == ["tests"]
    chosen = chosen_tests(["uvicorn"])
    assert "tests/test_service_guard.py" in chosen and "tests/page/test_form.py" in chosen
    assert not [name for name in chosen if not re.search("service|page", name)]
