"""What the tests of audits share: files in short, and the command in this process."""

from __future__ import annotations

import math

import pytest

from solver.check.audit import RingAudit, audit_rings
from solver.check.audit_meshes import MeshAudit, audit_meshes
from solver.cli.faults import run as run_words
from solver.files.train_file import parse_train

PITCH = 12 / (2 * math.pi)  # mm of pitch radius for a tooth, where the file gives no tooth pitch


def rings(text: str) -> RingAudit:
    return audit_rings(parse_train(text))


def meshes(text: str) -> MeshAudit:
    return audit_meshes(parse_train(text))


def mesh(driver: str, driven: str, one: int, other: int, more: str = "") -> str:
    return f'[[train.meshes]]\ndriver = "{driver}"\ndriven = "{driven}"\nteeth = [{one}, {other}]\n{more}\n'


def link(wheel: int, pinion: int, more: str = "") -> str:
    return f"[[train.links]]\nwheel = {wheel}\npinion = {pinion}\n{more}\n"


def command(monkeypatch, capsys, *words: str) -> tuple[int, str, str]:
    """The command line in this process: exit code, standard output, standard error."""
    monkeypatch.setattr("sys.argv", ["ringwright", "audit", *map(str, words)])
    with pytest.raises(SystemExit) as ended:
        run_words()
    out, err = capsys.readouterr()
    return int(ended.value.code or 0), out, err
