"""Where an answer came from: versions, the code's hash and revision, the machine's kind."""

from __future__ import annotations

import hashlib
import platform
import subprocess
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

PACKAGES = ("ringwright", "ortools", "numpy", "pyarrow", "pydantic")
_ROOT = Path(__file__).resolve().parents[3]


@cache
def versions() -> dict[str, str]:
    """Versions of Python and of every package that an answer can depend on."""
    found = {"python": platform.python_version(), "machine": f"{platform.system()} {platform.machine()}"}
    for package in PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "not installed"
    return found


@cache
def code_sha256() -> str:
    """Hash over the source and data files of both packages, by name and content."""
    return sources_sha256(("constraints", "solver"))


def sources_sha256(folders: tuple[str, ...]) -> str:
    """Hash over the source and data files below these folders of the code, by name and content."""
    digest = hashlib.sha256()
    for folder in folders:
        for file in sorted((_ROOT / folder).rglob("*")):
            if file.suffix in {".py", ".toml"}:
                digest.update(str(file.relative_to(_ROOT)).encode() + b"\0" + file.read_bytes() + b"\0")
    return digest.hexdigest()


@cache
def code_revision() -> str | None:
    """The commit of the checkout that the code runs from, with "+changes" where files differ; None outside one."""
    try:
        head = _git("rev-parse", "HEAD")
        changed = _git("status", "--porcelain", "--", "solver", "constraints")
    except (OSError, subprocess.SubprocessError):
        return None
    return head + ("+changes" if changed else "")


def _git(*words: str) -> str:
    done = subprocess.run(["git", "-C", str(_ROOT), *words], capture_output=True, text=True, check=True, timeout=10)
    return done.stdout.strip()
