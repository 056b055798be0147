"""What README.md and the pages of docs/ show, against the program: every command runs, every output is what it prints.

How a page is read, from top to bottom, in a folder of its own that holds the designs that ship:

- a block of TOML that begins with `# NAME.toml` is written under that name; one that begins with `# in NAME.toml`
  changes the lines of these fields in it;
- a line `$ ringwright ...` is run, and the lines up to the next one are what it prints;
- a line `ringwright ...` is run; what stands behind two spaces and a `#` is left out;
- a block of Python is run; a block of text behind it is what it prints;
- each ends with exit code 0, unless its line says `exit code N`; RUN is the last design that was solved.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from browser import NotThere, chromium
from commands import CONFIGS, ROOT, forked, run, start
from PIL import Image
from sweeping import SMALL, call, write

from solver import parse_design
from solver.batch.sweep.file import load_sweep_file

PAGES = sorted([ROOT / "README.md", *(ROOT / "docs").glob("*.md")])
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.S | re.M)
# What needs more than this machine; the client in Python of the API is run by test_service_docs.py.
ELSEWHERE = {"tcp://hall:8786"}

OWN = """
title = "Three moons for the hall"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Titan"]
[rings]
tooth_step = {min = 4, max = 8}
blanks = {min = 0, max = 2}
"""


class Step(NamedTuple):
    """A command of a page. shown: what it is said to print, or None where the page does not say."""

    words: list[str]
    code: int
    shown: str | None


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    return [body for kind, body in BLOCK.findall(text) if kind == language]


def steps(block: str) -> Iterator[Step]:
    """The commands of a block without a language."""
    for part in re.split(r"^(?=\$ |ringwright )", block, flags=re.M):
        line, _, shown = part.partition("\n")
        if line.removeprefix("$ ").startswith("ringwright "):
            command, _, remark = line.removeprefix("$ ").partition("  #")
            code = re.search(r"exit code (\d+)", remark)
            yield Step(shlex.split(command)[1:], int(code[1]) if code else 0, shown if line[0] == "$" else None)


def change(file: Path, lines: str) -> None:
    """Give fields of a file other values, as somebody with an editor would."""
    text = file.read_text(encoding="utf-8")
    for line in lines.splitlines():
        name = line.split(" = ")[0]
        found = re.search(rf"^{name} = .*$", text, re.M) or re.search(rf"^# {name} = .*$", text, re.M)
        assert found, f"{file.name} has no field {name}"
        text = text[: found.start()] + line + text[found.end() :]
    file.write_text(text, encoding="utf-8")


def prepared(folder: Path) -> Path:
    """A folder with what the pages take to be there: the designs that ship, a design and a sweep of one's own."""
    shutil.copytree(CONFIGS, folder / "runs" / "configs")
    shutil.copy(CONFIGS / "saturn-hall.toml", folder)
    write(folder, OWN, "hall.toml")
    write(folder, SMALL)
    (folder / "token").write_text("a-token-of-the-pages\n")
    return folder


def done(step: Step, folder: Path) -> None:
    """Run a command of a page, and compare."""
    words = [word.replace("/etc/ringwright/token", "token") for word in step.words]
    if words[0] == "serve":
        return serve(words, folder)
    solved = sorted(folder.glob("runs/results/*/run.json"), key=lambda path: path.stat().st_mtime)
    words = [word.replace("RUN", solved[-1].parent.name) if "RUN" in word else word for word in words]
    if "runs/results/*" in words:
        at = words.index("runs/results/*")
        words[at : at + 1] = sorted(f"runs/results/{path.name}" for path in folder.glob("runs/results/*"))
    if words[0] == "new":
        (folder / words[1]).unlink(missing_ok=True)
    code, out, err = forked(*words, cwd=folder)
    assert code == step.code, (words, code, out, err)
    if step.shown is not None:
        assert (out or err).decode().rstrip("\n") == step.shown.rstrip("\n"), words
    return None


def serve(words: list[str], folder: Path) -> None:
    """The service says where it is, and ends when it is told to."""
    process = start(*words, "--port", "0", cwd=folder)
    try:
        assert process.stderr.readline().startswith("Ringwright is at http://")
    finally:
        process.terminate()
        process.communicate(timeout=60)


@pytest.mark.slow
@pytest.mark.parametrize(
    "page",
    [pytest.param(page, marks=() if page.name == "README.md" else pytest.mark.deep, id=page.stem) for page in PAGES],
)
def test_every_command_runs_and_prints_what_is_shown(page: Path, tmp_path: Path) -> None:
    folder, printed = prepared(tmp_path), ""
    for language, body in BLOCK.findall(page.read_text(encoding="utf-8")):
        name = re.match(r"# (in )?([\w-]+\.toml)\n", body)
        if language == "toml" and name and name[1]:
            change(folder / name[2], body.partition("\n")[2])
        elif language == "toml" and name:
            (folder / name[2]).write_text(body, encoding="utf-8")
        elif not language:
            for step in steps(body):
                if not set(step.words) & ELSEWHERE:
                    done(step, folder)
        elif language == "python" and page.name != "api.md":
            code, printed, err = call(cwd=folder, driver=body)
            assert code == 0 and printed, err
        elif language == "text":
            assert printed == body


def test_the_readme_lists_every_page_and_every_link_leads_somewhere() -> None:
    told = text_of("README.md") + text_of("DEVELOPERS.md")
    for page in PAGES:
        assert page.name == "README.md" or f"](docs/{page.name})" in told, page.name
        for link in re.findall(r"\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
            file, _, heading = link.partition("#")
            if "://" in link:
                continue
            goal = page.parent / file if file else page
            assert goal.exists(), (page.name, link)
            if heading:
                words = heading.replace("-", "[ -]")
                assert re.search(rf"^#+ {words}$", goal.read_text(encoding="utf-8"), re.M | re.I), (page.name, link)


def test_every_command_has_an_example() -> None:
    told = {step.words[0] for page in PAGES for block in blocks(page.read_text("utf-8"), "") for step in steps(block)}
    _, out, _ = run("--help", cwd=ROOT)
    assert told >= set(re.findall(r"^  (\w+)  ", out.split("Commands:")[1], re.M))


def test_the_targets_of_make_that_are_told_of_are_there() -> None:
    made = re.search(r"^\.PHONY: (.*)$", text_of("Makefile"), re.M)
    assert made is not None
    told = {name for page in PAGES for name in re.findall(r"^make (\w+)|`make (\w+)`", page.read_text("utf-8"), re.M)}
    assert {one or other for one, other in told} <= set(made[1].split())


def test_the_picture_of_the_demo_is_what_it_draws(tmp_path: Path) -> None:
    run("solve", str(CONFIGS / "saturn-hall.toml"), "--no-save", "--picture", "hall.svg", cwd=tmp_path)
    assert (tmp_path / "hall.svg").read_bytes() == (CONFIGS / "saturn-hall.svg").read_bytes()
    assert "](../runs/configs/saturn-hall.svg)" in text_of("docs/demo.md")


def test_the_train_of_the_page_is_the_file_that_ships() -> None:
    assert (CONFIGS / "audit-three-moons.toml").read_text(encoding="utf-8") in blocks(text_of("docs/audit.md"), "toml")


def test_the_sweep_file_of_the_page_is_sound(tmp_path: Path) -> None:
    (example,) = blocks(text_of("docs/sweeps.md"), "toml")
    shutil.copy(CONFIGS / "saturn-hall.toml", tmp_path)
    sweep = load_sweep_file(write(tmp_path, example))
    assert len(sweep.points) == 7 and parse_design(sweep.points[-1].text).fit.frame.round


@pytest.mark.deep
def test_the_picture_of_the_page_can_be_made_anew(tmp_path: Path) -> None:
    try:
        chromium()
    except NotThere as fault:
        pytest.skip(str(fault))
    subprocess.run([sys.executable, "docs/page_picture.py", str(tmp_path / "page.png")], cwd=ROOT, check=True)
    with Image.open(ROOT / "docs" / "page.png") as kept, Image.open(tmp_path / "page.png") as made:
        assert kept.size == made.size
