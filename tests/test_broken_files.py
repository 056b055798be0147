"""Every broken file gives its message: one line with file, field, value and what is allowed; exit code 2."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from solver.cli.faults import run as run_words

BROKEN: dict[str, list[str]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
NOT_UTF_8 = "not UTF-8 text: byte {} in line {}; save the file as UTF-8"
NO_TEXT = {
    "binary": (bytes(range(256)) * 4, NOT_UTF_8.format("0x80", 2)),
    "not utf-8": (b'[bodies]\nset = "saturn"\ntitle = "\xff\xfe"\n', NOT_UTF_8.format("0xff", 3)),
}


def run(monkeypatch, capsys, *words: str) -> tuple[int, str, str]:
    """The command line in this process: exit code, standard output, standard error."""
    monkeypatch.setattr("sys.argv", ["ringwright", *words])
    with pytest.raises(SystemExit) as ended:
        run_words()
    out, err = capsys.readouterr()
    return int(ended.value.code or 0), out, err


def test_there_are_enough_broken_files():
    assert len(BROKEN) >= 140


@pytest.mark.parametrize("name", [*BROKEN, *NO_TEXT])
def test_broken_file(name, tmp_path, monkeypatch, capsys):
    file = tmp_path / f"{name}.toml"
    if name in BROKEN:
        text, message = BROKEN[name]
        file.write_text("".join(f"{line}\n" for line in text.split(" | ") if line), encoding="utf-8")
    else:
        data, message = NO_TEXT[name]
        file.write_bytes(data)
    assert run(monkeypatch, capsys, "solve", str(file)) == (2, "", f"{file}: {message}\n")


def test_several_faults_are_all_said(tmp_path, monkeypatch, capsys):
    file = tmp_path / "two.toml"
    file.write_text('[bodies]\nset = "saturn"\nreference = "frist"\n[search]\nkeep = 0\n')
    code, _, err = run(monkeypatch, capsys, "solve", str(file))
    assert code == 2 and len(err.splitlines()) == 2


def test_ten_thousand_bodies(tmp_path, monkeypatch, capsys):
    file = tmp_path / "crowd.toml"
    entries = "".join(f'[[bodies.list]]\nname = "b{i}"\nperiod = {i + 1}\n' for i in range(10_000))
    file.write_text(entries)
    code, _, err = run(monkeypatch, capsys, "solve", str(file))
    assert (code, err) == (2, f"{file}: bodies.list: has 10000 bodies; at most 100\n")


def test_a_hundred_megabytes(tmp_path, monkeypatch, capsys):
    file = tmp_path / "large.toml"
    with file.open("wb") as stream:
        stream.truncate(100_000_000)
    code, _, err = run(monkeypatch, capsys, "solve", str(file))
    allowed = "the file is larger than 1000000 bytes; a design file is a few kilobytes"
    assert (code, err) == (2, f"{file}: {allowed}\n")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[rings]\ninner_teeth = 0x" + "f" * 100_000, "not usable TOML: a number has too many digits"),
        ("[a]\nb = [[{c = 0b" + "1" * 100_000 + "}]]", "not usable TOML: a number has too many digits"),
        ("\n" + "x." * 300_000 + "x = 1", "not usable TOML: a key of more than 100 parts in line 2"),
        ("[ x" + " . x" * 100 + "]", "not usable TOML: a key of more than 100 parts in line 1"),
        ('a = {"x.y" . ' + "'' . \"\\\"\" . " * 50 + "x = 1}", "not usable TOML: a key of more than 100 parts"),
        ("x." * 99 + "x = 1", "bodies: is missing"),
        ('x = {s = """q"""", ' + "a." * 100 + "a = 1}", "not usable TOML: a key of more than 100 parts in line 1"),
        ('x = ["""say "hi"""", "' + "a." * 200 + '"]', "bodies: is missing"),
        ("x = ['''say 'hi'''', '" + "a." * 200 + "']", "bodies: is missing"),
        ("# " + "." * 100 + '\n"""\n' + '\\"""x\n' * 150_000 + "\\", "not valid TOML: "),
        ('title = "' + "x." * 200 + '"', "title = "),  # 400 characters
        ("title = '''\n" + "x." * 50 + "'''\n[bodies]\nset = 'satrun'  # " + "x." * 200, "bodies.set = "),
    ],
)  # fmt: skip
def test_what_would_take_too_long_to_read_or_to_say(text, message, tmp_path, monkeypatch, capsys):
    file = tmp_path / "much.toml"
    file.write_text(text)
    code, out, err = run(monkeypatch, capsys, "solve", str(file))
    assert (code, out) == (2, "") and err.startswith(f"{file}: {message}") and len(err) < 1000


def test_a_file_that_is_not_there(tmp_path, monkeypatch, capsys):
    code, _, err = run(monkeypatch, capsys, "solve", str(tmp_path / "no.toml"))
    assert (code, err) == (2, f"{tmp_path / 'no.toml'}: No such file or directory\n")


def test_a_folder_in_place_of_a_file(tmp_path, monkeypatch, capsys):
    code, _, err = run(monkeypatch, capsys, "solve", str(tmp_path))
    assert (code, err) == (2, f"{tmp_path}: Is a directory\n")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path, monkeypatch, capsys):
    file = tmp_path / "secret.toml"
    file.write_text("")
    file.chmod(0)
    code, _, err = run(monkeypatch, capsys, "solve", str(file))
    assert (code, err) == (2, f"{file}: Permission denied\n")


@pytest.mark.skipif(not os.path.exists("/proc/self/mem"), reason="needs a file that opens and cannot be read")
@pytest.mark.parametrize("words", ["solve", "explain", "audit", "sweep", "serve --port 0 --token-file"])
def test_a_file_whose_reading_fails_is_named(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(monkeypatch, capsys, *words.split(), "/proc/self/mem")
    option = "--token-file " if "--token-file" in words else ""
    assert (code, err) == (2, f"{option}/proc/self/mem: Input/output error\n")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("bodies", "satrun"), 'no body set "satrun"; did you mean "saturn"?'),
        (("schema", "desing"), 'no schema "desing"; did you mean "design"?'),
        (("rank", "nowhere"), "nowhere: not a stored run (it has no run.json)"),
        (("rank", "x", "--by", "parts,eror"), '--by parts,eror: "eror" is no rank key; did you mean "error"?'),
        (("rank", "x", "--front", "eror"), '--front eror: "eror" is no rank key; did you mean "error"?'),
        (("rank", "x", "--most", "eror=1"), '--most eror=1: "eror" is no rank key; did you mean "error"?'),
        (("rank", "x", "--by", "error,error"), "--by error,error: names a rank key twice"),
        (
            ("rank", "x", "--by", ""),
            "an empty word behind --by: nothing is given; write what is meant, or leave it out",
        ),
        (("sweep", "x", "--status", "--again"), "--again: nothing is solved with --status"),
        (("sweep", "x", "--dry-run", "--mend"), "--mend: nothing is solved with --dry-run"),
        (("rank", "x", "--most", "error=much"), "--most error=much: needs a number; write it like error=1.5"),
        (("rank", "x", "--most", "error=1e999"), "--most error=1e999: needs a number; write it like error=1.5"),
        (("rank", "x", "--most", "error=1", "--most", "error=2"), "--most error=2: error has a limit already"),
        (("rerun", "nowhere"), "nowhere: not a stored run (it has no run.json)"),
    ],
)
def test_wrong_words(words, message, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    code, out, err = run(monkeypatch, capsys, *words)
    assert (code, out, err) == (2, "", message + "\n")


def test_an_unknown_command(monkeypatch, capsys):
    code, _, err = run(monkeypatch, capsys, "slove")
    assert code == 2 and "slove" in err and "Traceback" not in err
