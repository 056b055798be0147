"""What commands write: nothing that is there is lost without --force, nothing is ever written into what is stored."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from unittest import mock

import pytest
from commands import ROOT, run_afresh
from sweeping import BASE, call, write

from solver.batch.store import lock
from solver.batch.store import output as output_module
from solver.batch.store import runs as store
from solver.batch.store.files import replacing, whole_folder
from solver.batch.store.output import OutputError, output, refuse_output, stored_around
from solver.batch.sweep import run as sweep_run
from solver.batch.sweep import sweeps, table
from solver.cli import faults
from solver.service.jobs import jobs
from solver.service.kept import record
from solver.sheets.book.folder import write_folder
from solver.sheets.errors import SheetsError

PLACED = BASE.replace('directions = "none"', "directions = 24").replace("[rings]", "[rings]\naddendum = 5")
SWEEP = BASE + "[vary]\nrings.inner_teeth = [24, 26]\n"
Tree = dict[str, bytes]


def run(*words: str, cwd: Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of the command, in this process: it writes the same files."""
    out, err = StringIO(), StringIO()
    words_of_it = mock.patch("sys.argv", ["ringwright", *words])
    with chdir(cwd), redirect_stdout(out), redirect_stderr(err), words_of_it, pytest.raises(SystemExit) as ending:
        faults.run()
    return ending.value.code or 0, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    """A folder with designs, a stored run, a finished sweep, and what a service's folder looks like."""
    folder = tmp_path_factory.mktemp("home")
    write(folder, PLACED, "hall.toml")
    write(folder, SWEEP)
    assert run("solve", "hall.toml", cwd=folder)[0] == 0
    assert call("sweep", "moons.toml", cwd=folder)[0] == 0
    (stored,) = (folder / "runs/results").glob("three*")
    stored.rename(folder / "run")
    (folder / "runs/results/moons").rename(folder / "sweep")
    service = folder / "service"
    (service / "new").mkdir(parents=True)
    shutil.copytree(folder / "sweep", service / "jobs/0123456789abcdef")
    (service / "lock").touch()
    return folder


@pytest.fixture
def here(home, tmp_path) -> Path:
    return Path(shutil.copytree(home, tmp_path / "here"))


def tree(folder: Path) -> Tree:
    """Every file below a folder, and what it holds."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# Every option that writes a file, with {} where its name stands.
FILES = {
    "new": ("new", "{}"),
    "picture": ("solve", "hall.toml", "--no-save", "--picture", "{}"),
    "parquet": ("rank", "run", "--parquet", "{}"),
    "plot": ("rank", "sweep", "--plot", "{}"),
    "out": ("design", "run", "--out", "{}"),
}


@pytest.mark.deep
@pytest.mark.parametrize("words", FILES.values(), ids=FILES)
def test_what_is_there_is_written_over_with_force_alone(here, words):
    there = here / "there.txt"
    there.write_text("mine")
    before = tree(here)
    command = [word.format("there.txt") for word in words]
    code, out, err = run(*command, cwd=here)
    assert (code, out, err.count("\n")) == (2, "", 1) and "there.txt: exists already" in err and "--force" in err
    assert tree(here) == before
    code, _, err = run(*command, "--force", cwd=here)
    assert code == 0 and there.read_bytes() != b"mine", err
    assert {name: data for name, data in tree(here).items() if name != "there.txt"} == {
        name: data for name, data in before.items() if name != "there.txt"
    }


@pytest.mark.deep
@pytest.mark.parametrize("words", FILES.values(), ids=FILES)
def test_nothing_is_written_into_what_is_stored(here, words, tmp_path):
    """Neither over its files nor beside them, by no way, also with --force."""
    (here / "way").symlink_to(here / "run")
    before = tree(here)
    names = ["run/design.toml", "sweep/jobs.sqlite", "way/new.svg", "service/jobs/0123456789abcdef/new.svg"]
    for name in [*names, "service/new.svg", "sweep/parts/deep/new.svg"]:
        code, out, err = run(*(word.format(name) for word in words), "--force", cwd=here)
        assert (code, out, err.count("\n")) == (2, "", 1) and "nothing else is written there" in err, (name, err)
    assert tree(here) == before


@pytest.mark.slow
def test_a_certificate_goes_into_a_new_folder_outside_of_what_is_stored(here):
    """Refused before anything is solved, so that the solver that writes proofs is not needed."""
    before = tree(here)
    for folder in ("run/proof", "sweep/parts/proof", "service/proof"):
        code, out, err = run("prove", "hall.toml", "--certificate", folder, cwd=here)
        assert (code, out) == (2, "") and "nothing else is written there" in err
    code, out, err = run("prove", "hall.toml", "--certificate", "run", cwd=here)
    assert (code, out, err) == (2, "", "--certificate run: is there already; name a new folder\n")
    assert tree(here) == before


@pytest.mark.slow
def test_what_is_no_certificate_is_told_plainly(here):
    writes = "; ringwright prove FILE --certificate FOLDER writes one\n"
    assert run("check", "nowhere", cwd=here) == (2, "", f"nowhere: there is no such folder{writes}")
    assert run("check", "run", cwd=here) == (2, "", f"run: no certificate (it has no claim.json){writes}")


@pytest.mark.deep
def test_sheets_replace_sheets_alone(here):
    words = ("sheets", "run", "--out", "pack")
    assert run(*words, cwd=here)[0] == 0
    first = tree(here / "pack")
    code, _, err = run(*words, "--rank", "2", cwd=here)
    assert code == 2 and "pack: exists and is not empty" in err and tree(here / "pack") == first
    assert run(*words, "--rank", "2", "--force", cwd=here)[0] == 0
    second = tree(here / "pack")
    assert second["parts.csv"] != first["parts.csv"] and not list(here.glob(".*"))
    for name in ("pack/notes.txt", "pack/jigs/own.stl", "pack/letter.pdf"):
        (here / name).write_text("mine")
        code, _, err = run(*words, "--force", cwd=here)
        assert code == 2 and err.startswith(f"--out pack: {name.removeprefix('pack/')}: is none of the sheets")
        assert tree(here / "pack") == {**second, name.removeprefix("pack/"): b"mine"} and not list(here.glob(".*"))
        (here / name).unlink()
    before = tree(here)
    for folder in ("run", "run/new", "sweep/parts", "service/sheets"):
        code, _, err = run("sheets", "run", "--out", folder, "--force", cwd=here)
        assert code == 2 and "nothing else is written there" in err
    assert tree(here) == before


def test_a_setting_sheet_is_not_written_into_what_is_stored(here):
    before = tree(here)
    for folder in ("run", "run/new", "sweep/parts", "service/sheets"):
        code, _, err = run("setting", "run", "--date", "2027-01-01", "--sheet", folder, "--force", cwd=here)
        assert code == 2 and err.startswith(f"--sheet {folder}: ") and "nothing else is written there" in err
    assert tree(here) == before


def test_sheets_that_cannot_be_put_in_their_place_leave_the_old_ones(tmp_path, monkeypatch):
    out = tmp_path / "pack"
    write_folder(out, {"index.html": b"old"})
    rename = Path.rename

    def broken(self: Path, target: Path) -> Path:
        if self.name.startswith(".half-written-"):
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", broken)
    with pytest.raises(SheetsError, match="No space left"):
        write_folder(out, {"index.html": b"new"}, force=True)
    assert tree(tmp_path) == {"pack/index.html": b"old"}
    monkeypatch.undo()
    write_folder(out, {"index.html": b"new"}, force=True)
    assert tree(tmp_path) == {"pack/index.html": b"new"}


@pytest.mark.slow
def test_runs_are_not_stored_in_runs(here):
    before = tree(here)
    for words in (
        ("solve", "hall.toml", "--results", "run"),
        ("solve", "hall.toml", "--results", "service/jobs"),
        ("sweep", "moons.toml", "--results", "sweep"),
        ("sweep", "moons.toml", "--results", "service/jobs"),
        ("serve", "--port", "0", "--data", "run"),
        ("serve", "--port", "0", "--data", "sweep/new"),
    ):
        code, out, err = run(*words, cwd=here)
        assert (code, out) == (2, "") and "nothing else is written there" in err, (words, err)
    code, _, err = run("sweep", "moons.toml", "--results", ".", "--name", "run", cwd=here)
    assert code == 2 and err == "run: is another run; give the run another name with --name\n"
    assert tree(here) == before


@pytest.mark.slow
def test_a_sweep_takes_no_folder_that_holds_other_things(here):
    mine = here / "mine"
    (mine / "parts").mkdir(parents=True)
    (mine / "parts" / "teeth.parquet").write_bytes(b"mine")
    (mine / "base.toml").write_text("mine")
    before = tree(here)
    code, _, err = run("sweep", "moons.toml", "--results", ".", "--name", "mine", cwd=here)
    assert code == 2 and "mine: holds other things" in err and tree(here) == before


@pytest.mark.slow
def test_a_service_clears_away_nothing_that_is_not_its_own(here):
    for name in ("jobs/letters", "new"):
        mine = here / "mine" / name
        mine.mkdir(parents=True)
        (mine / "letter.txt").write_text("mine")
        before = tree(here)
        code, _, err = run("serve", "--port", "0", "--data", "mine", cwd=here)
        assert code == 2 and "is not a service's and not empty" in err and tree(here) == before
        shutil.rmtree(here / "mine")


@pytest.mark.slow
def test_the_file_that_is_read_is_never_written_over(here):
    (here / "way.svg").symlink_to("hall.toml")
    for name in ("hall.toml", "way.svg", "./run/../hall.toml"):
        words = ("solve", "hall.toml", "--no-save", "--picture", name, "--force")
        code, out, err = run(*words, cwd=here)
        assert (code, out) == (2, "") and "is the file that is read" in err
    assert (here / "hall.toml").read_text() == PLACED


@pytest.mark.slow
def test_two_options_do_not_write_one_file(here):
    code, _, err = run("rank", "run", "--parquet", "a.svg", "--plot", "./a.svg", cwd=here)
    assert code == 2 and "choose two names" in err and not (here / "a.svg").exists()


@pytest.mark.slow
@pytest.mark.parametrize("name", [".", "-", "run/.."])
def test_what_is_no_file_is_refused(here, name):
    for words in FILES.values():
        code, out, err = run(*(word.format(name) for word in words), "--force", cwd=here)
        assert (code, out, err.count("\n")) == (2, "", 1) and "the name of a file" in err


@pytest.mark.parametrize("words", [["solve", ""], ["solve", "hall.toml", "--picture="], ["rank", "run", "--plot", ""]])
def test_an_empty_word_is_not_the_folder_one_is_in(here, words):
    code, out, err = run(*words, cwd=here)
    assert (code, out, err.count("\n")) == (
        2,
        "",
        1,
    ) and f"{words[-2 if not words[-1] else -1].rstrip('=')}: nothing is given" in err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("solve hall.toml --picture no/a.svg", "--picture no/a.svg: there is no folder no"),
        ("solve hall.toml --picture astray", "--picture astray: there is no folder {here}/no"),
        ("rank run --plot no/a.svg", "--plot no/a.svg: there is no folder no"),
        ("solve hall.toml --results hall.toml", "--results hall.toml: is no folder"),
        ("solve hall.toml --results hall.toml/a", "--results hall.toml/a: hall.toml is no folder"),
        ("solve hall.toml --results /dev/null", "--results /dev/null: is no folder"),
        ("sweep sweep.toml --results hall.toml", "--results hall.toml: is no folder"),
        ("serve --port 0 --data hall.toml", "--data hall.toml: is no folder"),
        ("sweep sweep.toml --results hall.toml --dry-run", "--results hall.toml: is no folder"),
        ("sweep sweep.toml --results hall.toml --status", "--results hall.toml: is no folder"),
        (f"solve hall.toml --results {'r' * 300}", f"--results {'r' * 300}: File name too long"),
        (f"solve hall.toml --results no/{'r' * 300}", f"--results no/{'r' * 300}: File name too long"),
        (f"serve --port 0 --data no/{'r' * 300}", f"--data no/{'r' * 300}: File name too long"),
        (f"sweep sweep.toml --name {'r' * 300}", f"--name {'r' * 300}: File name too long"),
        (f"new {'r' * 300}", f"{'r' * 300}: File name too long"),
        (f"sheets run --out {'r' * 300}", f"--out {'r' * 300}: File name too long"),
        (f"setting run --sheet {'r' * 300}", f"--sheet {'r' * 300}: File name too long"),
    ],
)
def test_a_place_that_cannot_be_is_refused_before_any_work_is_done(here, words, told, monkeypatch):
    (here / "sweep.toml").write_text('base = "hall.toml"\n[vary]\nsearch.keep = [1, 2]\n')
    monkeypatch.setattr("solver.answer.solve.Solving.run", None)
    (here / "astray").symlink_to("no/a.svg")
    assert run(*words.split(), cwd=here) == (2, "", f"{told}\n".replace("{here}", os.path.realpath(here)))
    assert not (here / "no").exists()


def test_what_was_made_for_a_folder_that_cannot_be_is_removed(tmp_path):
    with pytest.raises(OSError, match="too long"), whole_folder(tmp_path / "one" / "two" / ("r" * 300), {}):
        raise AssertionError("the folder was made")
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(not Path("/proc/version").exists(), reason="needs a folder that not even root can write in")
@pytest.mark.parametrize(
    "words",
    ["new", "solve hall.toml --picture", "solve hall.toml --results", "rank run --plot", "rank run --parquet",
     "sweep sweep.toml --results", "sweep sweep.toml --dry-run --results", "sheets run --out", "serve --port 0 --data",
     "setting run --sheet"],
)  # fmt: skip
def test_a_place_that_takes_nothing_is_refused_before_any_work_is_done(here, words, monkeypatch):
    (here / "sweep.toml").write_text('base = "hall.toml"\n[vary]\nsearch.keep = [1, 2]\n')
    monkeypatch.setattr("solver.answer.solve.Solving.run", None)
    option = words.split()[-1].replace("new", "")
    said = f"{option} /proc/x: cannot be written: /proc: No such file or directory\n".lstrip()
    assert run(*words.split(), "/proc/x", cwd=here) == (2, "", said)


# -- one stroke --------------------------------------------------------------------------------------------------------


def test_a_file_is_whole_or_not_there(tmp_path):
    path = tmp_path / "a.svg"
    with pytest.raises(KeyboardInterrupt), output("--plot", path, False) as stream:
        stream.write(b"half")
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []
    path.write_bytes(b"old")
    path.chmod(0o600)
    with pytest.raises(KeyboardInterrupt), output("--plot", path, True) as stream:
        stream.write(b"half")
        raise KeyboardInterrupt
    assert tree(tmp_path) == {"a.svg": b"old"}
    with output("--plot", path, True) as stream:
        stream.write(b"new")
        assert path.read_bytes() == b"old"
    assert tree(tmp_path) == {"a.svg": b"new"} and path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_came_while_another_was_written_stays(tmp_path, monkeypatch, links):
    def none(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    if not links:
        monkeypatch.setattr(os, "link", none)
    path = tmp_path / "a.svg"
    with pytest.raises(OutputError, match="exists already"), output("--plot", path, False) as stream:
        stream.write(b"ours")
        path.write_bytes(b"theirs")
    assert tree(tmp_path) == {"a.svg": b"theirs"}
    with output("--plot", tmp_path / "b.svg", False) as stream:
        stream.write(b"ours")
    assert tree(tmp_path) == {"a.svg": b"theirs", "b.svg": b"ours"}


def test_a_link_is_written_through_and_stays(tmp_path):
    (tmp_path / "way").symlink_to("place")
    (tmp_path / "place").write_bytes(b"old")
    with pytest.raises(OutputError, match="exists already"):
        refuse_output("--plot", tmp_path / "way", False)
    with output("--plot", tmp_path / "way", True) as stream:
        stream.write(b"new")
    assert (tmp_path / "way").is_symlink() and (tmp_path / "place").read_bytes() == b"new"


@pytest.mark.deep
def test_a_device_is_written_to(home):
    words = ("solve", "hall.toml", "--no-save", "--json", "--picture")
    code, out, err = run_afresh(*words, "/dev/stderr", cwd=home)
    assert code == 0 and out.startswith("{") and "<svg" in err
    assert run_afresh(*words, "/dev/null", cwd=home)[0] == 0 and Path("/dev/null").is_char_device()


@pytest.mark.slow
def test_what_a_killed_process_left_is_removed(tmp_path):
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    names = [f".half-written-{ended.pid}-0123abcd", f".half-written-{os.getpid()}-0123abcd", ".half-written-notes"]
    for name in names:
        (tmp_path / name).touch()
    with output("", tmp_path / "a", False) as stream:
        stream.write(b"a")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*names[1:], "a"])


@pytest.mark.slow
def test_what_one_process_is_writing_no_other_removes(tmp_path):
    """A job's record, say, in whose folder a sweep begins."""
    path = tmp_path / "job.json"
    with replacing(path) as stream:
        stream.write(b"{}")
        code = (
            "from pathlib import Path; from solver.batch.store.files import *; "
            f"remove_half_written(Path({str(tmp_path)!r}))"
        )
        subprocess.run([sys.executable, "-c", code], check=True)
    assert path.read_bytes() == b"{}" and list(tmp_path.iterdir()) == [path]


# -- what is a run -----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_what_is_stored_is_known_also_where_it_is_damaged(here):
    for folder in (here / "run", here / "sweep", here / "service"):
        assert stored_around(folder) == folder == stored_around(folder / "a/b")
    assert stored_around(here) is None and stored_around(here / "new") is None
    (here / "run/run.json").write_text("{")
    (here / "sweep/manifest.json").unlink()
    (here / "sweep/jobs.sqlite").write_bytes(b"broken")
    assert stored_around(here / "run/a") == here / "run" and stored_around(here / "sweep/a") == here / "sweep"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["manifest.json", "run.json", "jobs.sqlite"])
def test_a_file_of_that_name_alone_makes_no_run(tmp_path, name):
    (tmp_path / name).write_text('{"name": "Somebody else\'s"}')
    assert stored_around(tmp_path / "hall.svg") is None
    assert run("new", "hall.toml", cwd=tmp_path)[0] == 0


def test_the_names_are_those_that_are_written():
    assert (output_module.RUN, output_module.DESIGN, output_module.SOLUTIONS) == (
        store.RUN, store.DESIGN, store.SOLUTIONS
    )  # fmt: skip
    assert (output_module.MANIFEST, output_module.SWEEP) == (sweep_run.MANIFEST, sweeps.SWEEP)
    assert (output_module.JOBS, output_module.LOCK) == (table.JOBS, lock.LOCK)
    assert (output_module.SERVICE_JOBS, output_module.SERVICE_NEW) == (jobs.JOBS, jobs.NEW)
    assert output_module.SERVICE_RECORD == record.RECORD


def test_every_option_that_takes_a_place_to_write_is_tried_here():
    """A new option of that kind belongs in FILES above, or with the folders."""
    text = "".join((ROOT / "solver" / "cli" / name).read_text() for name in ("app.py", "words.py"))
    options = set(re.findall(r"^    (\w+): Annotated\[\s*Path \| None", text, re.M))
    written = {"file", "picture", "parquet", "plot", "token_file", "sheet", "out", "certificate"}
    assert options == {*written, "design"}  # the last is read by `check`
