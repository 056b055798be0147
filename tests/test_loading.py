"""What a command does not load: whoever asks for the version waits for no solver, and a small design for no sheets."""

from __future__ import annotations

import subprocess
import sys

import pytest
from commands import CONFIGS, ROOT
from shipped import PLAIN

SEEN = """
import sys
from solver.__main__ import main
sys.argv[:] = ["ringwright", *sys.argv[1:]]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print(*sys.modules, file=sys.stderr)
"""
HEAVY = {
    "asyncio", "constraints", "dask", "ezdxf", "fastapi", "http.client", "jinja2", "multiprocessing", "ortools",
    "pandas", "pyarrow.compute", "reportlab", "shapely", "solver.service.http", "solver.sheets.views", "sqlite3",
    "uvicorn",
}  # fmt: skip
FOR_WORK = {"numpy", "pyarrow", "pydantic", "rich", "solver.answer", "solver.check", "solver.files", "solver.search"}


def loaded(*words: str) -> set[str]:
    """The modules that a command has loaded at its end."""
    done = subprocess.run([sys.executable, "-c", SEEN, *words], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stderr.split())


@pytest.mark.parametrize("words", [["--version"], ["--help"], ["solve", "--help"]])
def test_what_is_asked_of_the_command_alone_loads_no_library(words):
    modules = loaded(*words)
    by_typer = {"pydantic"} if len(words) > 1 else set()  # for the words of one command
    assert "solver.cli.app" in modules and modules & (HEAVY | FOR_WORK) <= by_typer


def test_solving_loads_what_solving_needs():
    modules = loaded("solve", "--no-save", str(PLAIN / "four-gears.toml"))
    assert "solver.search.order.search" in modules and modules & (HEAVY | {"pyarrow"}) == set()


@pytest.mark.deep
def test_storing_a_run_loads_the_store_and_no_more(tmp_path):
    modules = loaded("solve", "--results", str(tmp_path), str(PLAIN / "four-gears.toml"))
    assert "pyarrow.parquet" in modules and modules & HEAVY == set()


@pytest.mark.deep
def test_a_design_with_places_loads_no_solver_of_others(tmp_path):
    """Its picture is stored too, which is the only sheet."""
    modules = loaded("solve", "--results", str(tmp_path), str(CONFIGS / "saturn-hall.toml"))
    assert "solver.sheets.views.picture" in modules and modules & (HEAVY - {"solver.sheets.views"}) == set()


def test_a_line_on_a_terminal_is_drawn_before_what_takes_longer_to_load():
    """`explain` draws it first; typer loads pydantic for the words of a command."""
    code = "import sys, solver.cli.app, solver.cli.line; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) & (HEAVY | FOR_WORK) <= {"rich", "pydantic"}
