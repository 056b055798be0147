"""What others install: the wheel holds all that the repository's packages hold, and the command works away from it."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
import venv
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest
from commands import CONFIGS, ROOT

PACKAGES = ("solver", "constraints")
pytestmark = pytest.mark.deep


def pip(python: str | Path, *words: str, cwd: Path) -> None:
    """pip in an environment; shows what it said where it fails."""
    done = subprocess.run(
        [str(python), "-m", "pip", "--disable-pip-version-check", *words], cwd=cwd, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel of the repository as it is, built from a copy so that nothing is left in the repository."""
    place = tmp_path_factory.mktemp("wheel")
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=ROOT, capture_output=True, check=True, text=True
    )
    for name in filter(None, listed.stdout.split("\0")):
        if (ROOT / name).is_file():
            (place / "source" / name).parent.mkdir(parents=True, exist_ok=True)
            (place / "source" / name).write_bytes((ROOT / name).read_bytes())
    pip(sys.executable, "wheel", "--no-deps", "--wheel-dir", str(place), str(place / "source"), cwd=place)
    (built,) = place.glob("*.whl")
    return built


def test_wheel_holds_every_file_of_the_packages(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        inside = {name for name in archive.namelist() if name.split("/")[0] in PACKAGES}
    here = {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert inside == here


def test_wheel_carries_the_licence(wheel: Path) -> None:
    licence = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert licence.startswith("MIT License")
    assert "without restriction" in licence
    assert "AS IS" in licence
    with zipfile.ZipFile(wheel) as archive:
        (carried,) = [name for name in archive.namelist() if re.fullmatch(r".*\.dist-info/(licenses/)?LICENSE", name)]
        assert archive.read(carried).decode() == licence
        (metadata,) = [name for name in archive.namelist() if name.endswith(".dist-info/METADATA")]
        told = Parser().parsestr(archive.read(metadata).decode())
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["license"] == told["License-Expression"] == "MIT"
    assert told.get_all("License-File") == ["LICENSE", "solver/sheets/draw/fonts/LICENSE.txt"]


def test_the_demo_installs_what_the_packages_import_and_no_more() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    (extras,) = re.findall(r"^\$\(READY\):.*?'\.\[(.*?)\]'", (ROOT / "Makefile").read_text("utf-8"), re.S | re.M)
    wanted = [*project["dependencies"]]
    for extra in extras.split(","):
        wanted += project["optional-dependencies"][extra]
    named = {re.split("[<>=]", one)[0].replace("-", "_") for one in wanted}
    imported = set()
    for package in PACKAGES:
        for path in (ROOT / package).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    imported |= {alias.name.split(".")[0] for alias in node.names}
                elif isinstance(node, ast.ImportFrom) and not node.level:
                    imported.add((node.module or "").split(".")[0])
    others = imported - sys.stdlib_module_names - set(PACKAGES)
    called = {"pyerfa": "erfa", "astronomy_engine": "astronomy"}  # what is imported by another name
    parts = {"anyio", "starlette", "pydantic_core", "markupsafe", "h11"}  # of what is named
    # Only a sweep on several machines loads the one, only a certificate the other; rl_accel is reportlab's own.
    more = {"distributed", "pumpkin_solver"}
    assert others - parts - more == {called.get(one, one) for one in named} - {"rl_accel"}


def test_installed_into_an_empty_environment_it_solves_from_another_folder(wheel: Path, tmp_path: Path) -> None:
    folder = tmp_path / "environment"
    venv.create(folder, with_pip=True)
    pip(folder / "bin" / "python", "install", "--quiet", str(wheel), cwd=tmp_path)
    away = tmp_path / "bench"
    away.mkdir()
    (away / "hall.toml").write_bytes((CONFIGS / "saturn-hall.toml").read_bytes())
    clean = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "VIRTUAL_ENV"))}
    command = str(folder / "bin" / "ringwright")
    for words in (("--version",), ("new", "mine.toml"), ("solve", "mine.toml"), ("solve", "hall.toml")):
        done = subprocess.run([command, *words], cwd=away, env=clean, capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr
    assert "proven best" in done.stderr + done.stdout
    where = subprocess.run(
        [str(folder / "bin" / "python"), "-P", "-c", "import solver; print(solver.__file__)"],
        cwd=away,
        env=clean,
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(where.stdout.strip()).is_relative_to(folder)
