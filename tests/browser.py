"""A browser for the tests of the page: one that is there, or else the system's own package, put there by its manager.

Browsers are never downloaded from elsewhere. Where none can be had, the tests are skipped and say why.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
from functools import cache
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
AXE = "4.10.3"
PATIENCE_S = 600


class NotThere(RuntimeError):
    """What is needed cannot be had; the message says why, and what helps."""


@cache
def chromium() -> str:
    """The path of a Chromium. Raises NotThere."""
    with _alone("chromium"):
        found = _found()
        if found is None:
            _install()
            found = _found()
    if found is None:
        raise NotThere("no Chromium, even after apt-get install chromium")
    return found


def _found() -> str | None:
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def _install() -> None:
    helps = "install it by hand (Debian: apt-get install chromium)"
    if shutil.which("apt-get") is None or os.geteuid() != 0:
        raise NotThere(f"no Chromium on this system, and it cannot be installed without root and apt-get; {helps}")
    install = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium"]
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (install, ["apt-get", "update", "-qq"], install):
        try:
            done = subprocess.run(words, env=environment, capture_output=True, text=True, timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            raise NotThere(f"no Chromium, and apt-get did not end in {PATIENCE_S} s; {helps}") from None
        if words is install and done.returncode == 0:
            return
    raise NotThere(f"no Chromium, and apt-get cannot install it ({done.stderr.strip()[-200:]}); {helps}")


@cache
def axe() -> str:
    """The script axe-core, of one version, fetched once by npm and kept beside the environment. Raises NotThere."""
    kept = Path(sys.prefix) / "share" / f"axe-core-{AXE}.js"
    with _alone("axe"):
        if not kept.exists():
            text = _packed()
            kept.parent.mkdir(parents=True, exist_ok=True)
            half = kept.with_suffix(".half")
            half.write_text(text, encoding="utf-8")
            half.rename(kept)
    return kept.read_text(encoding="utf-8")


def _packed() -> str:
    if shutil.which("npm") is None:
        raise NotThere("no npm, which fetches axe-core")
    with tempfile.TemporaryDirectory() as folder:
        words = ["npm", "pack", "--silent", f"axe-core@{AXE}"]
        try:
            done = subprocess.run(words, cwd=folder, capture_output=True, text=True, timeout=PATIENCE_S / 5)
        except subprocess.TimeoutExpired:
            raise NotThere("npm could not fetch axe-core: it did not end") from None
        if done.returncode:
            raise NotThere(f"npm could not fetch axe-core: {done.stderr.strip()[-200:]}")
        with tarfile.open(next(Path(folder).glob("*.tgz"))) as archive:
            member = archive.extractfile("package/axe.min.js")
            assert member is not None
            return member.read().decode()


class _alone:
    """One process at a time, on this machine."""

    def __init__(self, what: str) -> None:
        self._path = Path(tempfile.gettempdir()) / f"ringwright-tests-{what}-{os.geteuid()}.lock"

    def __enter__(self) -> None:
        self._file = self._path.open("w")
        fcntl.flock(self._file, fcntl.LOCK_EX)

    def __exit__(self, *_: object) -> None:
        self._file.close()
