"""No process runs code that lies in the working folder, whatever it is called and however the command is begun."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from commands import CONFIGS, ROOT
from serving import Running, ended, submitted
from sweeping import BASE

from solver.processes import SafeChildren

pytestmark = pytest.mark.slow

# What the solver, its helpers and their libraries import: of the standard library, of what is installed, of our own.
NAMES = (
    "json", "typing", "multiprocessing", "signal", "threading", "pathlib", "dataclasses", "fractions", "socket",
    "subprocess", "tomllib", "sqlite3", "queue", "pickle", "select", "ctypes", "zipfile", "csv", "uuid", "selectors",
    "numpy", "ortools", "pyarrow", "pandas", "pydantic", "typer", "rich", "uvicorn", "distributed", "shapely",
    "reportlab", "numexpr", "bottleneck", "constraints",
)  # fmt: skip
# Leaves its name where the test looks for it.
TRAP = """
import os

os.write(os.open({log!r}, os.O_CREAT | os.O_APPEND | os.O_WRONLY), b"{name} in " + str(os.getpid()).encode() + b"\\n")
raise SystemExit("code of the working folder was run: {name}")
"""
PLACED = """
title = "Two moons"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys"]
[fit]
frame = {shape = "square", side = 640}
[search]
keep = 2
"""
SWEEP = BASE + "[vary]\nrings.inner_teeth = [24, 26]\n"


@pytest.fixture(params=["as a script", pytest.param("as a module", marks=pytest.mark.deep)])
def trapped(request, tmp_path):
    """The words that begin the command, and a working folder full of traps."""
    folder = tmp_path / "designs"
    folder.mkdir()
    log = tmp_path / "log"
    for name in NAMES:
        text = TRAP.format(log=str(log), name=name)
        (folder / f"{name}.py").write_text(text)
        if name in ("ortools", "constraints"):
            (folder / name).mkdir()
            (folder / name / "__init__.py").write_text(text)
    script = tmp_path / "ringwright"  # as pip writes it
    script.write_text(
        "import sys\nfrom solver.__main__ import main\nif __name__ == '__main__':\n    sys.exit(main())\n"
    )
    if request.param == "as a module":
        yield [sys.executable, "-m", "solver"], folder
    else:
        (folder / "solver").mkdir()  # a copy that is out of date; with -m it would be what is asked for
        (folder / "solver" / "__init__.py").write_text(TRAP.format(log=str(log), name="solver"))
        yield [sys.executable, str(script)], folder
    assert not log.exists(), log.read_text()


def called(words: list[str], folder: Path, *more: str) -> None:
    """Run the command with words that it takes."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([*words, *more], cwd=folder, env=environment, capture_output=True, text=True, timeout=300)
    assert done.returncode in (0, 3), done.stderr


@pytest.mark.deep
def test_no_command_runs_code_of_the_working_folder(trapped):
    words, folder = trapped
    (folder / "two.toml").write_text(PLACED)
    (folder / "moons.toml").write_text(SWEEP)
    called(words, folder, "solve", "two.toml", "--picture", "two.svg")
    called(words, folder, "sweep", "moons.toml", "--workers", "1")


@pytest.mark.deep
def test_no_other_command_does(trapped):
    words, folder = trapped
    (folder / "two.toml").write_text(PLACED)
    (folder / "moons.toml").write_text(SWEEP)
    called(words, folder, "solve", "two.toml")
    called(words, folder, "explain", "two.toml")
    called(words, folder, "audit", str(CONFIGS / "audit-three-moons.toml"), "--place", "--best")
    called(words, folder, "sweep", "moons.toml", "--workers", "1")
    runs = sorted(str(path) for path in (folder / "runs" / "results").iterdir())
    called(words, folder, "rank", *runs, "--plot", "front.svg", "--parquet", "front.parquet")
    called(words, folder, "rerun", "runs/results/moons", "--all", "--workers", "1")
    called(words, folder, "sheets", "two.toml", "--out", "sheets")


@pytest.mark.deep
def test_no_worker_of_a_local_cluster_does(trapped):
    pytest.importorskip("distributed")
    words, folder = trapped
    (folder / "moons.toml").write_text(SWEEP)
    called(words, folder, "sweep", "moons.toml", "--cluster", "local", "--workers", "1")


@contextmanager
def serving(words: list[str], folder: Path) -> Iterator[Running]:
    with subprocess.Popen(
        [*words, "serve", "--port", "0"], cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        assert process.stderr is not None
        try:
            first = process.stderr.readline()
            assert first.startswith("Ringwright is at http://"), first + process.stderr.read()
            yield Running(process, "", first.split()[3], [])
        finally:
            process.terminate()


@pytest.mark.deep
def test_no_helper_of_the_service_does(trapped):
    """The checker, the runner and its workers, and the process that makes the sheets."""
    words, folder = trapped
    with serving(words, folder) as service, service.client() as client:
        name = submitted(client, PLACED)
        assert ended(client, name)["state"] == "complete"
        [found] = client.get(f"/api/jobs/{name}/solutions?limit=1").json()["solutions"]
        sheets = client.get(f"/api/jobs/{name}/solutions/{found['point']}/1/sheets")
        assert sheets.status_code == 200, sheets.text


def test_what_the_user_names_in_pythonpath_is_imported(tmp_path):
    """That is a wish; to have the working folder there is one too."""
    (tmp_path / "uvicorn.py").write_text("raise SystemExit('as wished')")
    for wish in (tmp_path, Path(".")):
        environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{wish}"}
        done = subprocess.run(
            [sys.executable, "-m", "solver", "serve"], cwd=tmp_path, env=environment, capture_output=True, text=True
        )
        assert done.stderr == "as wished\n"


def test_a_checkout_that_is_not_installed_runs_its_own_code(tmp_path):
    """`python -m solver` in it: its helpers and its rules are of the same checkout."""
    for package in ("solver", "constraints"):
        shutil.copytree(ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "solver" / "version.py").write_text('VERSION = "of this checkout"\n')
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    code = (
        "from solver.processes import helper, leave_working_folder\n"
        "leave_working_folder()\n"
        "import subprocess, sys, constraints\n"
        "assert '' not in sys.path, sys.path\n"
        "print(constraints.__path__[0], flush=True)\n"
        "subprocess.run(helper('solver', '--version'))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=60
    )
    assert done.stdout == f"{tmp_path / 'constraints'}\nringwright of this checkout\n", done.stderr


def test_threads_that_begin_processes_leave_the_environment_as_it_was(monkeypatch):
    monkeypatch.delenv("PYTHONSAFEPATH", raising=False)
    first, second = SafeChildren(), SafeChildren()
    first.__enter__()
    second.__enter__()
    first.__exit__()
    assert os.environ["PYTHONSAFEPATH"] == "1"  # the second is still at it
    second.__exit__()
    assert "PYTHONSAFEPATH" not in os.environ
