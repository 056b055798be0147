"""Designs that are made many at a time are those that are made one by one: the same text, hash and faults."""

from __future__ import annotations

import copy
import dataclasses
import hashlib
import json
import os
import pickle
import random
import subprocess
import sys
from fractions import Fraction
from typing import Any

import pytest
import tomli_w
from random_designs import random_design, random_placed_design
from shipped import DISCS

from solver.batch.sweep import file as sweep_file
from solver.batch.sweep.file import sweep_of
from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.once import Once
from solver.files import load, many
from solver.files import text as file_text
from solver.files.load import design_from_data
from solver.files.many import Designs, Setting
from solver.files.text import data_of

HALL = DISCS.read_text()
# Fields and values, sound ones and others: of every table, of tables in them, of whole tables, and of none.
VALUES: dict[str, list[Any]] = {
    "title": ["Hall", 'a "b"\n\tc', "", 3, {"x": 1}],
    "title.part": [1],
    "units": ["mm", "in", "cm"],
    "hardware.screw": ["M2", "M7"],
    "hardware.prices": [{"screw": "0.1"}, {"screws": 1}],
    "hardware.bodies": [{"Titan": {"diameter": 9}}, {"Titam": {"diameter": 9}}, {"Titan": {"size": 9}}],
    "bench.joints_per_hour": [4, "5.5", 0],
    "bodies": [{"set": "uranus"}, {"set": "saturn", "only": ["Titan", "Mimas"]}, {}, 7],
    "bodies.set": ["saturn", "jupiter", "satrun"],
    "bodies.only": [["Mimas", "Titan"], ["Mimas", "Titam"], []],
    "bodies.reference": ["first", "best", "worst"],
    "bodies.list": [[{"name": "A", "period": "3"}, {"name": "B", "period": "9/2"}],
        [{"name": "A", "period": "3", "longitude": 12.5, "epoch": "2026-01-01"}],
        [{"name": "A", "longitude": 12.5}], [{"name": "A", "perod": 3}]],
    "bodies.unit": ["days", "hours", "weeks"],
    "sky": [{}, {"zero_deg": 0}],
    "sky.zero_deg": [45, "370/3", 1000],
    "sky.seen_from": ["south", "east"],
    "rings.inner_teeth": [30, [30, 32], {"min": 30, "max": 33}, 0, "30"],
    "rings.tooth_step": [4, {"min": 4, "max": 6}],
    "rings.blanks": [0, 3, {"min": 0, "max": 200}],
    "rings.teeth": [[30, 34, 38, 42], [[30, 31], {"min": 33, "max": 40}, 38]],
    "rings.module": [4],
    "rings.rim": [3, 3.5, 500],
    "rings.step": [4],
    "arbors": [{"stock": [5, 6, 7, 8, 9]}, {"third_gears": True}],
    "arbors.third_gears": [0, 1, True],
    "arbors.reverted": [True, False, 1],
    "arbors.stock": [[], [6, 8, 10], [99]],
    "fit": [{}, {"frame": {"shape": "round", "diameter": 500}}],
    "fit.frame": [{"shape": "square", "side": 500}, {"shape": "square"}],
    "fit.frame.side": [460, 500.5, -1],
    "fit.frame.depth": [160, "160"],
    "fit.rollers.radius": [3, 40],
    "fit.directions": [24, "none", [0, 90.5], 361],
    "fit.plate": ["none", "inner"],
    "drive": [{"motor_rpm": [2, 5]}, {"pinion_teeth": 8}],
    "drive.turn.body": ["Titan", "Nemo"],
    "drive.turn.seconds": [40],
    "drive.crank": [True, {"radius": 50}, False, {"radus": 1}],
    "loads": [{}, {"bearing": "plain"}],
    "loads.body_at": [{"Titan": 30.5}, {"Nemo": 3}],
    "loads.mesh_efficiency": [0.9, 2],
    "search.max_envelope": [200],
    "search.max_drift": [{"degrees": 5, "years": "0.1"}, {"degrees": 5}, 5],
    "search.max_drift.degrees": [30, 0],
    "search.keep": [1, 10, 0],
    "search.distinct": ["gears", "order", "teeth"],
    "search.time_limit_s": [60, 0.5, "1e9"],
    "search.front": [[], ["error", "parts"], ["error"]],
    "fit.unevenness": [0.1, "1/8", 0],
    "wire": [{}, {"spokes": 4}],
    "wire.form": ["saw", "cycloidal", "sow"],
    "wire.third": ["pins", "teeth", "tooth"],
    "wire.loop": ["AWG 14", 1.5, "AWG 99"],
    "bodies.grams": [{"Titan": 30}, {"Titen": 1}],
    "supports": [{}, {"model": "table", "arm": 3}],
    "supports.arm": [4, 2.5, 0],
    "supports.metal": ["brass", "gold"],
    "strange": [1],
    "strange.x": [1],
    "bodies.list[0].period": [3],
}  # fmt: skip


def plainly(base: dict[str, Any], settings: list[Setting]) -> dict[str, Any]:
    """The base's data with the settings in it. Raises ValueError where one stands below what is no table."""
    data = copy.deepcopy(base)
    for path, value, _ in settings:
        *tables, key = path.split(".")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
            if not isinstance(table, dict):
                raise ValueError(path)
        if "[" in path:
            raise ValueError(path)
        table[key] = copy.deepcopy(value)
    return data


def hashed(design: Design) -> str:
    """The design's hash, as the standard library writes its data."""

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: plain(item) for key, item in value.items()}
        if isinstance(value, list | tuple):
            return [plain(item) for item in value]
        return str(value) if isinstance(value, Fraction) else value

    data = plain(dataclasses.asdict(design))
    wired = data.pop("wired")
    del data["prove"]
    if not wired:
        del data["wire"], data["unevenness"]
    del data["set_name"]  # it decides nothing
    if data["distinct"] == "order":  # as all designs were once
        del data["distinct"]
    for key, usual in (("arrange", "first"), ("link_places", []), ("keep_free", [])):
        if data["fit"][key] == usual:
            del data["fit"][key]
    if data["limits"]["max_new_gears"] is None:
        del data["limits"]["max_new_gears"]
    of_the_file = (
        "loads",
        "hardware",
        "bench",
        "supports",
        "weights",
        "hang",
        "unit",
        "starts",
        "made",
    )
    for table in of_the_file:  # of the hash where the file has them
        if data[table] is None:
            del data[table]
    if "supports" in data and data["supports"]["begins"] == "frame":  # as usual
        del data["supports"]["begins"]
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def bases() -> list[str]:
    told = [HALL, '[bodies]\nset = "saturn"\n', 'title = "No bodies"\n', HALL.replace("tooth_step", "tooth_stop")]
    told.append(HALL + "[wire]\n[supports]\nsag = 1\n")
    return told + [random_placed_design(seed) for seed in range(6)] + [random_design(seed) for seed in range(6)]


@pytest.mark.parametrize("number", range(len(bases())))
def test_designs_made_together_are_those_made_alone(number):
    base = data_of(bases()[number], "")
    rng = random.Random(number)
    designs = Designs(base, 10**9)
    sound = 0
    for _ in range(120):
        paths = rng.sample(list(VALUES), rng.choice((0, 1, 1, 2, 3)))
        settings = [Setting(path, value := rng.choice(VALUES[path]), repr(value)) for path in paths]
        try:
            data = plainly(base, settings)
            design = design_from_data(data, "")
        except (DesignError, ValueError) as fault:
            with pytest.raises(DesignError) as raised:
                designs.made(settings)
            if isinstance(fault, DesignError):
                assert str(raised.value) == str(fault), settings
            continue
        made = designs.made(settings)
        assert (made.design, made.text) == (design, tomli_w.dumps(data)), settings
        assert made.sha256 == design.sha256() == hashed(design), settings
        assert made.design.canonical() == json.loads(made.design.canonical_text())
        sound += 1
    assert sound > 20 or number in (2, 3)  # whose bases are not sound


def test_what_is_equal_and_of_another_kind_is_called_apart():
    once = Once()
    assert [once(repr, thing) for thing in (1, True, 1.0, "1", 1, True)] == ["1", "True", "1.0", "'1'", "1", "True"]


def test_a_call_is_made_once_also_where_it_raises():
    calls = []

    def refuse(value: tuple) -> None:
        calls.append(value)
        raise DesignError([])

    once, thing = Once(), ([],)
    for _ in range(3):
        with pytest.raises(DesignError):
            once(refuse, thing)
    assert len(calls) == 1


# -- the work of a large sweep -----------------------------------------------------------------------------------------


@pytest.mark.deep
def test_ten_thousand_points_cost_what_their_values_cost(monkeypatch):
    """Every field's value is read and written once; what follows from one table alone is worked out once for each."""
    counts = dict.fromkeys(("by_schema", "dumps", "loads", "bodies_of", "fit_of", "rings_of"), 0)

    def counted(module: Any, name: str, shown: str) -> None:
        whole = getattr(module, name)

        def call(*words: Any, **more: Any) -> Any:
            counts[shown] += 1
            return whole(*words, **more)

        monkeypatch.setattr(module, name, call)

    for module, name in ((many, "by_schema"), (load, "bodies_of"), (load, "fit_of"), (load, "rings_of")):
        counted(module, name, name)
    counted(tomli_w, "dumps", "dumps")
    counted(file_text.tomllib, "loads", "loads")
    text = HALL + "[vary]\nrings.inner_teeth = {min = 30, max = 79}\nrings.tooth_step = {min = 3, max = 12}\n"
    text += "fit.clearance = {min = 1, max = 1.9, step = 0.1}\narbors.third_gears = [0, 1]\n"
    assert len(sweep_of(text, "", "many").points) == 10_000
    values = 50 + 10 + 10 + 2
    assert counts["by_schema"] == counts["dumps"] <= values + 40  # and the fields of the base
    assert counts["loads"] <= counts["dumps"] + 2
    assert counts["bodies_of"] <= 2 and counts["fit_of"] <= 11 and counts["rings_of"] <= 501


def test_points_are_counted_before_they_are_looked_at(monkeypatch):
    monkeypatch.setattr(sweep_file, "_hashable", None)
    monkeypatch.setattr(sweep_file, "Designs", None)
    values = ", ".join(map(str, range(49_999)))
    with pytest.raises(DesignError, match=r"limits.points = 10000: the file makes 49999 points; allow them"):
        sweep_of(HALL + f"[vary]\nrings.tooth_step = [{values}]\n", "", "many")


@pytest.mark.parametrize(
    "value", ["[1, 2, 1]", "[[1, 2], [2, 1], [1, 2]]", "[{a = 1, b = 2}, {b = 2, a = 1}]", "[1, 1.0]"]
)
def test_a_value_that_is_varied_twice_is_refused(value):
    with pytest.raises(DesignError, match=r"vary.rings.tooth_step = .*: names .* twice"):
        sweep_of(HALL + f"[vary]\nrings.tooth_step = {value}\n", "", "many")


def test_a_field_that_is_varied_twice_is_refused():
    with pytest.raises(DesignError, match=r"vary.search.keep: is varied twice"):
        sweep_of(HALL + '[vary]\nsearch.keep = [1, 2]\n"search.keep" = [3]\n', "", "many")


def test_designs_that_are_too_large_together_are_refused(monkeypatch):
    text = HALL + "[vary]\nsearch.keep = {min = 1, max = 100}\n"
    assert len(sweep_of(text, "", "many").points) == 100
    monkeypatch.setattr(sweep_file, "MOST_CHARACTERS", 10)
    with pytest.raises(DesignError, match="vary: the designs of its points have more than 100000 characters together"):
        sweep_of(text, "", "many")
    assert len(sweep_of(text + "[limits]\npoints = 100000\n", "", "many").points) == 100  # more were allowed
    monkeypatch.setattr(many, "MOST_NUMBERS", 100)
    with pytest.raises(DesignError, match="hold more than 100 numbers together"):
        sweep_of(text + "[limits]\npoints = 100000\n", "", "many")


def test_no_more_faults_are_looked_for_than_anybody_reads():
    text = '[bodies]\nset = "saturn"\n' + "".join(f"[[point]]\nrings.step{index} = 1\n" for index in range(1000))
    with pytest.raises(DesignError) as raised:
        sweep_of(text, "moons.toml", "many")
    lines = str(raised.value).splitlines()
    assert len(lines) == sweep_file.MOST_COMPLAINTS + 1
    assert lines[-1] == "moons.toml: and more faults; no point behind point 201 was looked at"


def test_a_design_of_another_process_is_found_where_it_is_kept():
    """What is kept by design is found by its hash, which is kept too, and which texts make another in each process."""
    design = load.parse_design(HALL)
    kept = {design: "kept"}
    ask = """
import pickle, sys
from solver.files.load import parse_design
design = pickle.load(sys.stdin.buffer)
sys.exit({parse_design(open(sys.argv[1]).read()): 0}.get(design, 1))
"""
    for seed in "1", "2":
        done = subprocess.run([sys.executable, "-c", ask, DISCS], input=pickle.dumps(design),
                              env=os.environ | {"PYTHONHASHSEED": seed}, check=False)  # fmt: skip
        assert done.returncode == 0
    assert kept[copy.deepcopy(design)] == kept[dataclasses.replace(design)] == "kept"
    assert dataclasses.replace(design, keep=design.keep + 1) not in kept
