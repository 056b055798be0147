"""What the tests of the page share: small designs, a page of a browser, jobs of the service, angles as drawn."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction

from playwright.sync_api import Browser, Page, expect
from serving import JSON, TOML, Running

expect.set_options(timeout=30_000)

MOONS = """
title = "Three moons for the hall"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Rhea"]
sense = "{sense}"
[rings]
inner_teeth = 24
tooth_step = 4
blanks = 1
tooth_pitch = 12
addendum = 2.5
rim = 3
[arbors]
third_gears = {thirds}
[search]
keep = 8
"""
PLAIN = MOONS.format(sense="same", thirds=0)
THIRDS = MOONS.format(sense="either", thirds=2).replace("Three moons", "Three moons, either way,")
# The same with own bodies, of which nothing says where they are: a model that has no date and starts straight up. Of
# another title: what means the same but for the set is one job, whose page is of the text that came first.
OWN_BODIES = """
[[bodies.list]]
name = "Mimas"
period = "0.942422"
[[bodies.list]]
name = "Tethys"
period = "1.887802"
[[bodies.list]]
name = "Rhea"
period = "4.517502621"
"""
OWN_MOONS = MOONS.replace("Three", "Three own").replace('set = "saturn"\nonly = ["Mimas", "Tethys", "Rhea"]\n', "")
OWN_MOONS = OWN_MOONS.replace("[rings]", OWN_BODIES + "[rings]")
UNDATED = OWN_MOONS.format(sense="same", thirds=0)
UNDATED_THIRDS = OWN_MOONS.format(sense="either", thirds=2)
BARREN = MOONS.format(sense="same", thirds=0) + "max_error_pct = 0\nmax_parts = 1\n"


@contextmanager
def opened(browser: Browser, service: Running, **more: object) -> Iterator[Page]:
    """A page of a browser of its own; nothing that it runs may fail. The model does not move by itself."""
    words = {"base_url": service.address, "reduced_motion": "reduce", "viewport": {"width": 1280, "height": 900}}
    context = browser.new_context(**{**words, **more})
    faults: list[str] = []
    context.on("weberror", lambda fault: faults.append(str(fault.error)))
    context.on(
        "console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None
    )  # fmt: skip
    try:
        yield context.new_page()
        assert not faults, faults
    finally:
        context.close()


def complete(service: Running, text: str) -> str:
    """The id of a job with that text, once it is over."""
    with service.client() as client:
        job = str(client.post("/api/jobs", content=text, headers=TOML).json()["id"])
        with client.stream("GET", f"/api/jobs/{job}/events") as stream:
            assert any(line == "event: end" for line in stream.iter_lines())
    return job


@contextmanager
def going_on(service: Running, text: str) -> Iterator[str]:
    """The id of a job that no machine is done with, removed in the end."""
    with service.client() as client:
        job = str(client.post("/api/jobs", content=text, headers=TOML).json()["id"])
        try:
            yield job
        finally:
            client.post(f"/api/jobs/{job}/stop", headers=JSON)
            with client.stream("GET", f"/api/jobs/{job}/events") as stream:
                assert any(line == "event: end" for line in stream.iter_lines())
            assert client.delete(f"/api/jobs/{job}").status_code == 204


def solutions(service: Running, job: str) -> list[dict]:
    with service.client() as client:
        return client.get(f"/api/jobs/{job}/solutions").json()["solutions"]


def model_of(service: Running, text: str, place: int = 0) -> tuple[str, dict]:
    """The address of a model, and its solution."""
    job = complete(service, text)
    found = solutions(service, job)[place]
    return f"/jobs/{job}/{found['point']}/{found['rank']}", found["solution"]


def ring_angles(page: Page) -> list[float]:
    """The angle of every ring as it is drawn [degrees], innermost first."""
    found = page.eval_on_selector_all(
        ".ring", "rings => rings.map(ring => [Number(ring.dataset.ring), ring.getAttribute('transform')])"
    )
    return [float(re.fullmatch(r"rotate\((\S+)\)", told)[1]) for _, told in sorted(found)]


def apart(one: float, other: float) -> float:
    """How far two angles are from each other [degrees]."""
    return abs((one - other + 180) % 360 - 180)


def should_stand(solution: dict, turns: Fraction, begun: list[float] | None = None) -> list[float]:
    """Where every ring should stand [degrees] after so many turns of the first, from the answer's exact ratios. begun:
    where they were set to; straight up, unless told."""
    found = []
    for ring, start in zip(solution["rings"], begun or [90.0] * len(solution["rings"]), strict=True):
        sign = -1 if ring["sense"] == "reverse" else 1
        found.append((start + float(sign * turns / Fraction(*ring["ratio"]) % 1) * 360) % 360)
    return found


def open_model(page: Page, service: Running, text: str) -> dict:
    """Open the model of the first solution; the solution."""
    address, solution = model_of(service, text)
    page.goto(address)
    return solution


def solutions_all(service: Running, page: Page) -> list[dict]:
    job = re.search("/jobs/([0-9a-f]{16})", page.url)[1]
    with service.client() as client:
        return client.get(f"/api/jobs/{job}/solutions", params={"limit": 10000}).json()["solutions"]


def serious_faults(page: Page, script: str) -> list[tuple[str, list[str], str]]:
    """What axe finds wrong with a page, as far as it is serious: by which rule, where, and why. script: axe itself."""
    page.evaluate(script)
    found = page.evaluate("axe.run().then(({ violations, passes }) => ({ violations, passes: passes.length }))")
    assert found["passes"] > 10
    return [
        (one["id"], node["target"], node["failureSummary"])
        for one in found["violations"] if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]  # fmt: skip
