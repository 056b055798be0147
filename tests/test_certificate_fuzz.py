"""Certificates that nobody would write: a clear line, no crash, and no more memory than a certificate may take."""

from __future__ import annotations

import gzip
import json
import random
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from test_certificate import BY_HAND, BY_HAND_MODEL, CHECKER, EXCEPTION, GOOD_PROOF, write

from solver.check.certificate.check import check_certificate
from solver.check.certificate.claim import DoesNotHold, Unreadable

CLAIM = BY_HAND | {"exceptions": [EXCEPTION]}
MEGABYTE = 1 << 20


def told(folder: Path) -> str:
    with pytest.raises((DoesNotHold, Unreadable)) as fault:
        check_certificate(folder)
    line = str(fault.value)
    assert 0 < len(line) < 500 and "\n" not in line
    return line


@pytest.mark.slow
@pytest.mark.parametrize("name", ["claim.json", "model.json.gz", "proof.json.gz"])
def test_truncated_and_garbled_files(name, tmp_path):
    rng = random.Random(name)
    for number in range(150):
        write(tmp_path, CLAIM, BY_HAND_MODEL, GOOD_PROOF)
        data = bytearray((tmp_path / name).read_bytes())
        whole = bytes(data)
        if number % 3 == 0:
            data = data[: rng.randrange(len(data))]
        elif number % 3 == 1:
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        else:
            at = rng.randrange(len(data))
            data[at:at] = rng.randbytes(rng.randint(1, 30))
        (tmp_path / name).write_bytes(data)
        try:
            check_certificate(tmp_path)
        except (DoesNotHold, Unreadable) as fault:
            assert str(fault)
        else:  # a bit of the head of a packed file that says when it was made, or of a title
            assert name != "claim.json" or json.loads(data) == json.loads(whole) or data != whole


@pytest.mark.parametrize("name", ["claim.json", "model.json.gz", "proof.json.gz"])
def test_files_that_are_missing_empty_or_folders(name, tmp_path):
    write(tmp_path, CLAIM, BY_HAND_MODEL, GOOD_PROOF)
    (tmp_path / name).write_bytes(b"")
    told(tmp_path)
    (tmp_path / name).unlink()
    assert name in told(tmp_path)
    (tmp_path / name).mkdir()
    told(tmp_path)


VALUES = [
    None,
    True,
    -1,
    0,
    10**30,
    1.5,
    float("nan"),
    "",
    "x",
    "1/0",
    "1e999999999",
    "-1",
    "9" * 5000,
    [],
    {},
    [[]],
    [10**9],
    [{}],
]


@pytest.mark.slow
def test_every_field_of_a_claim_with_values_of_every_sort(tmp_path):
    fields = [(name,) for name in CLAIM]
    fields += [(name, key) for name in ("rings", "arbors", "best") for key in CLAIM[name]]
    fields += [("bodies", 1, key) for key in CLAIM["bodies"][1]]
    fields += [("arbors", "clear", key) for key in CLAIM["arbors"]["clear"]]
    fields += [("exceptions", 0, key) for key in EXCEPTION]
    accepted = []
    for field in fields:
        for value in VALUES:
            claim = json.loads(json.dumps(CLAIM))
            held = claim
            for key in field[:-1]:
                held = held[key]
            held[field[-1]] = value
            if claim == CLAIM:
                continue
            write(tmp_path, claim, BY_HAND_MODEL, GOOD_PROOF)
            try:
                check_certificate(tmp_path)
                accepted.append((field[-1], value))
            except (DoesNotHold, Unreadable) as fault:
                assert str(fault)
    assert {name for name, _ in accepted} <= HARMLESS


# Names, on which nothing rests; no best train; limits that this one keeps; third gears without any teeth for them;
# nothing that is better, said in another way.
HARMLESS = {
    "name",
    "best",
    "max_parts",
    "third",
    "third_gears",
    "clear",
    "cap",
    "best_is_worse",
    "held_rings",
    "held_seats",
    "held_links",
    "ring",
    "behind",
    "clearance",
    "pitch",
    "better",
}


FACT = '["p1", "<=", 615]'
PROOFS = {
    "huge numbers": '[11, [["p1", "<=", ' + "9" * 4000 + "]], [], []]",
    "too huge a number": "[" + "9" * 5000 + ", [], [], []]",
    "a hint of its own": f"[12, [{FACT}], [12], []]",
    "hints in a circle": f"[12, [{FACT}], [13], []]\n[13, [{FACT}], [12], []]",
    "a number twice": '[11, [["b0", ">=", 619]], [3, 1], []]\n' * 2,
    "a number of a constraint": '[1, [["b0", ">=", 619]], [3, 1], []]',
    "no contradiction": "[11, [], [], []]",
    "no step": "[]",
    "an end twice": GOOD_PROOF.removeprefix("case 0\n").removesuffix("end\n") + "[13, [], [2], []]",
    "letters that are none": "ä",
    "a long line": "[11, [], [" + "1, " * 200_000 + "1], []]",
    "nested": "[" * 100_000,
}


@pytest.mark.parametrize("name", PROOFS)
def test_hostile_proofs(name, tmp_path):
    write(tmp_path, CLAIM, BY_HAND_MODEL, f"case 0\n{PROOFS[name]}\nend\n")
    assert "proof.json.gz" in told(tmp_path)


MODELS = {
    "nested": "[" * 100_000,
    "a tag twice": BY_HAND_MODEL.splitlines()[1] + "\n" + BY_HAND_MODEL.splitlines()[1],
    "a tag of no sort": '[true, "clause", [], 0]',
    "nothing forbidden": '[1, "clause", [], 0]',
    "floats": '[1, "clause", [["c0", ">=", 2.0], ["c1", "<=", 1], ["p1", "<=", 615]], 0]',
    "not a number": '[1, "clause", [["p1", "<=", NaN]], 0]',
}


@pytest.mark.parametrize("name", MODELS)
def test_hostile_models(name, tmp_path):
    write(tmp_path, CLAIM, f"case 0\n{MODELS[name]}\nend\n", GOOD_PROOF)
    assert "model.json.gz" in told(tmp_path)


LARGE = {
    "one line of a gigabyte": lambda: _packed([b"case 0\n"], b"1" * MEGABYTE, 1024),
    "many steps that are kept": lambda: _packed([b"case 0\n"], b"", 0) + b"".join(_steps()),
}


def _packed(head: list[bytes], block: bytes, times: int) -> bytes:
    """Members of a packed file one after the other are one file."""
    return b"".join(map(gzip.compress, head)) + gzip.compress(block, 9) * times


def _steps():
    for start in range(20, 400_000, 100_000):
        facts = b'[["b0", ">=", 619], ["u0", "==", 0]]'
        steps = (b"[%d, %s, [3, 1], []]\n" % (number, facts) for number in range(start, start + 100_000))
        yield gzip.compress(b"".join(steps), 1)


@pytest.mark.deep
@pytest.mark.parametrize("name", LARGE)
def test_memory_is_bounded(name, tmp_path):
    """In a process that may take a gigabyte of memory and not more."""
    write(tmp_path, CLAIM, BY_HAND_MODEL, GOOD_PROOF)
    (tmp_path / "proof.json.gz").write_bytes(LARGE[name]())
    assert "proof.json.gz" in _bounded(tmp_path)


WIDE = {
    "rings": {"inner_teeth": list(range(20, 1020)), "tooth_step": list(range(1, 1000)), "teeth": None, "counts": [2]},
    "arbors": {**BY_HAND["arbors"], "wheel": list(range(1, 1001)), "pinion": list(range(1, 1001))},
}


@pytest.mark.deep
@pytest.mark.parametrize("name", WIDE)
def test_claims_that_are_too_wide(name, tmp_path):
    write(tmp_path, CLAIM | {name: WIDE[name]}, BY_HAND_MODEL, GOOD_PROOF)
    assert "claim.json" in _bounded(tmp_path)


def _bounded(folder: Path) -> str:
    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (1024 * MEGABYTE, 1024 * MEGABYTE))

    (folder / "certificate").symlink_to(CHECKER)
    words = [sys.executable, "-S", "-m", "certificate", str(folder)]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False, preexec_fn=limit)
    assert done.returncode in (1, 2) and "Traceback" not in done.stderr, done.stderr[-500:]
    return done.stderr
