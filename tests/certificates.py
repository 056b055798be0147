"""Small designs with certificates, and what their claims say by enumeration, from the claim's own figures alone."""

from __future__ import annotations

import gzip
import json
import math
from fractions import Fraction
from functools import cache
from itertools import combinations, product
from pathlib import Path
from tempfile import TemporaryDirectory

from solver import parse_design, solve
from solver.answer.certificate.claims import best_of
from solver.answer.certificate.writing import write_certificate

HEAD = '[bodies]\nreference = "{reference}"\nsense = "{sense}"\n'
BODY = '[[bodies.list]]\nname = "{name}"\nperiod = "{period}"\n{more}\n'
REST = """
[rings]
inner_teeth = {inner}
tooth_step = {step}
blanks = {blanks}
tooth_pitch = 12
addendum = {addendum}
[fit]
directions = "none"
clearance = 0
[arbors]
wheel_teeth = {{min = 6, max = {most}}}
pinion_teeth = {{min = 4, max = {most}}}
third_gears = {thirds}
third_teeth = {{min = 4, max = 6}}
[search]
max_error_pct = {limit}
"""


def design_text(
    periods,
    reference="first",
    sense="same",
    inner=20,
    step=5,
    blanks=0,
    thirds=0,
    limit=50,
    most=12,
    more="",
    addendum=0,
):
    bodies = [BODY.format(name=f"body {i}", period=one, more=more if i else "") for i, one in enumerate(periods)]
    rest = REST.format(inner=inner, step=step, blanks=blanks, thirds=thirds, limit=limit, most=most, addendum=addendum)
    return HEAD.format(reference=reference, sense=sense) + "".join(bodies) + rest


DESIGNS = {
    "plain": design_text(["1", "2.4", "5.3"]),
    "blank": design_text(["1", "2.4", "9.1"], blanks=[0, 1], most=11),
    "thirds": design_text(["1", "1.9", "3.3"], thirds=2, most=9, sense="either"),
    "clear": design_text(["1", "1.9", "3.3"], thirds=2, most=9, sense="either", addendum=2.5),
    "reverse": design_text(["1", "1.7", "3.3"], thirds=2, sense="either", more='sense = "reverse"', most=10),
    "best": design_text(["1", "2.4", "5.3"], reference="best", more="max_error_pct = 3"),
    "none": design_text(["1", "7.7", "8"], limit=5),
    "families": design_text(["1", "2.2", "4.1"], inner=[20, 21], step=[4, 5], most=10),
}

Files = tuple[dict, list[str], list[str]]  # the claim, the lines of the model, the lines of the proof


@cache
def written(name: str) -> tuple[str, str, str]:
    """The certificate of one of the designs: claim, model and proof as text."""
    design = parse_design(DESIGNS[name])
    with TemporaryDirectory() as folder:
        write_certificate(Path(folder), design, best_of(design, solve(design).solutions), 100)
        return read(Path(folder))


def read(folder: Path) -> tuple[str, str, str]:
    packed = [gzip.decompress((folder / name).read_bytes()).decode() for name in ("model.json.gz", "proof.json.gz")]
    return (folder / "claim.json").read_text(encoding="utf-8"), packed[0], packed[1]


def write(folder: Path, claim: str, model: str, proof: str) -> None:
    folder.mkdir(exist_ok=True)
    (folder / "claim.json").write_text(claim, encoding="utf-8")
    (folder / "model.json.gz").write_bytes(gzip.compress(model.encode(), 1))
    (folder / "proof.json.gz").write_bytes(gzip.compress(proof.encode(), 1))


def true(text: str) -> bool:
    """Whether what a claim says is so, by looking at every train; from the rules of `docs/certificate.md` alone."""
    claim = json.loads(text)
    square, strict = Fraction(claim["square"]), claim["strict"]
    told = {(one["case"], tuple(one["seats"]), _links(one)) for one in claim["better"]}
    better = {
        (rings, train) for rings, train, error in _trains(claim) if error is not None and _less(error, square, strict)
    }
    if len({train for _, train in better}) > len(told):
        return False
    links = {(seats, links) for _, seats, links in told}
    return all(train in links for _, train in better)


def least(text: str) -> Fraction | None:
    """(1 + worst error)**2 of the best train of a claim."""
    return min((error for _, _, error in _trains(json.loads(text)) if error is not None), default=None)


def _less(error: Fraction, square: Fraction, strict: bool) -> bool:
    return error < square if strict else error <= square


def _links(one: dict) -> tuple:
    return tuple((Fraction(ratio), thirds) for ratio, thirds in one["links"])


def _trains(claim: dict):
    """Each train: its rings; seats and links; (1 + worst error)**2, or None where a limit of its own is broken."""
    rings, arbors, bodies = claim["rings"], claim["arbors"], claim["bodies"]
    wheels, pinions, thirds = (sorted(set(arbors[name])) for name in ("wheel", "pinion", "third"))
    held = {link: (Fraction(ratio), number) for link, ratio, number in claim["held_links"]}
    for count in rings["counts"]:
        chosen = (
            product(*rings["teeth"][:count])
            if rings["teeth"] is not None
            else [
                tuple(z + i * step for i in range(count)) for z in rings["inner_teeth"] for step in rings["tooth_step"]
            ]
        )
        for teeth in chosen:
            if arbors["reverted"] and any(b <= a for a, b in zip(teeth, teeth[1:], strict=False)):
                continue
            if any(ring < count and teeth[ring] != one for ring, one in claim["held_rings"]):
                continue
            options = [_options(b - a, wheels, pinions, thirds, arbors) for a, b in zip(teeth, teeth[1:], strict=False)]
            kept = [[one for one in some if held.get(link, one) == one] for link, some in enumerate(options)]
            for links in product(*kept):
                used = sum(third for _, third in links)
                parts = count + 3 * (count - 1) + 2 * used
                if used > arbors["third_gears"] or (claim["max_parts"] is not None and parts > claim["max_parts"]):
                    continue
                for middle in combinations(range(1, count - 1), len(bodies) - 2):
                    seats = (0, *middle, count - 1)
                    if any(seat not in own for seat, own in zip(seats, claim["held_seats"], strict=False)):
                        continue
                    turned = [sum(third for _, third in links[:seat]) % 2 for seat in seats]
                    if any(
                        b["sense"] != "either" and (b["sense"] == "reverse") != t
                        for b, t in zip(bodies, turned, strict=True)
                    ):
                        continue
                    yield teeth, (seats, links), _error(claim, teeth, seats, links)


def _options(step: int, wheels, pinions, thirds, arbors):
    found = set()
    for a, b in product(wheels, pinions):
        ratio = Fraction(a, b)
        if not arbors["reverted"]:
            found |= {(ratio, 0)} | ({(ratio, 1), (ratio, 2)} if thirds else set())
            continue
        wheel_at, pinion_at = 1000 + a, 1000 + step + b  # where they would touch rings of 1000 teeth and so many more
        if wheel_at == pinion_at:
            found.add((ratio, 0))
        for c in thirds:
            # The arbor stands where the gear without a third one touches; the other between touch and triangle.
            clear = _clear(**arbors["clear"])
            if wheel_at + clear <= pinion_at <= wheel_at + 2 * c or pinion_at + clear <= wheel_at <= pinion_at + 2 * c:
                found.add((ratio, 1))
            for c2 in thirds:
                if max(wheel_at, pinion_at) + clear <= min(wheel_at + 2 * c, pinion_at + 2 * c2):
                    found.add((ratio, 2))
    return sorted(found)


def _clear(ring: str, behind: str, clearance: str, pitch: str, unit: str) -> int:
    """Teeth of radius that leave room: a tooth of pitch p is p / 2 pi of radius, one of module m is m / 2."""
    tooth = float(Fraction(pitch)) / (2 if unit == "module" else 2 * math.pi)
    return max(1, math.ceil(float(Fraction(ring) + Fraction(behind) + Fraction(clearance)) / tooth))


def _error(claim, teeth, seats, links) -> Fraction | None:
    """(1 + worst error)**2, from the definition: the least, of those that there can be, that some common rate keeps."""
    periods = [Fraction(1)]
    for i, (ratio, _) in enumerate(links):
        periods.append(periods[-1] * ratio * Fraction(teeth[i + 1], teeth[i]))
    most = Fraction(claim["max_error"])
    bodies = [(periods[seat], body) for seat, body in zip(seats, claim["bodies"], strict=True)]
    caps = [min(most, Fraction(body["cap"])) if body["cap"] is not None else most for _, body in bodies]
    lows = [Fraction(body["low"]) / period for period, body in bodies]  # of the rate
    highs = [Fraction(body["high"]) / period for period, body in bodies]
    if claim["reference"] == "first":
        rate = Fraction(claim["bodies"][0]["low"])
        errors = [max(rate / high, low / rate, Fraction(1)) - 1 for low, high in zip(lows, highs, strict=True)]
        return None if any(e > cap for e, cap in zip(errors, caps, strict=True)) else (1 + max(errors)) ** 2
    pairs = [(low / high, caps[j], caps[k]) for j, low in enumerate(lows) for k, high in enumerate(highs)]
    squares = {Fraction(1)} | {q for q, _, _ in pairs if q > 1}
    squares |= {(q / (1 + cap)) ** 2 for q, j, k in pairs for cap in (j, k) if q > 1 + cap}

    def kept(square: Fraction) -> bool:
        return all(q <= 1 or q**2 <= min(square, (1 + j) ** 2) * min(square, (1 + k) ** 2) for q, j, k in pairs)

    return min((square for square in squares if kept(square)), default=None)
