"""What a certificate of a design's answer claims, as plain data and in words."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from solver.answer.document import SolutionAnswer, made_as, train_of
from solver.check.certificate.claim import SCHEMA, TeethClaim, Trains
from solver.check.judge import judge
from solver.design.design import Design
from solver.design.errors import so_many
from solver.design.exact import error_below
from solver.design.links import KIND_BY_NAME
from solver.design.toothing import toothings
from solver.design.train import Train
from solver.search.reaches import BEHIND, Reaches, gap_of

SCALE = 10**6  # units of a logarithm: a millionth of a period


def claim_of(design: Design, best: Train | None, square: Fraction, strict: bool, scale: int) -> dict[str, Any]:
    """The claim without exceptions: no train has a worst error below E (strict), or none of E or less, with
    (1 + E)**2 = square."""
    rings, arbors, limits = design.rings, design.arbors, design.limits
    counts = sorted({count for family in design.families() for count in family.counts})
    return {
        "schema": SCHEMA,
        "title": design.title,
        "design_sha256": design.sha256(),
        "claim": "",
        "rests_on": [],
        "square": str(square),
        "strict": strict,
        "reference": design.reference,
        "bodies": [
            {
                "name": body.name,
                "low": str(body.low),
                "high": str(body.high),
                "sense": body.sense,
                "cap": None if body.cap is None else str(body.cap),
            }
            for body in design.bodies
        ],
        "max_error": str(limits.max_error),
        "rings": {
            "inner_teeth": list(rings.inner_teeth),
            "tooth_step": list(rings.tooth_step),
            "teeth": None if rings.teeth is None else [list(one) for one in rings.teeth],
            "counts": counts,
        },
        "arbors": {
            "wheel": _small(arbors.wheel_teeth, limits.max_largest),
            "pinion": _small(arbors.pinion_teeth, limits.max_largest),
            "third": _small(arbors.third_teeth, limits.max_largest),
            "third_gears": arbors.third_gears,
            "clear": _clear(design),
            "reverted": arbors.reverted,
        },
        "max_parts": limits.max_parts,
        **_held(design, max(counts)),
        "scale": scale,
        "exceptions": [],
        "better": [],
        "best": None if best is None else _best(best),
        "best_is_worse": False,
    }


def _small(teeth: Iterable[int], most: int | None) -> list[int]:
    return [one for one in teeth if most is None or one <= most]


def _clear(design: Design) -> dict[str, str]:
    """By how much third gears keep the gear behind them clear of its ring [mm]: of the toothing that asks for least."""
    least = min(toothings(design), key=gap_of)
    reaches, pitch = Reaches(least), least.rings.pitch
    return {
        "ring": str(reaches.ring),
        "behind": str(reaches.beyond(BEHIND)),
        "clearance": str(least.fit.clearance),
        "pitch": str(pitch.value),
        "unit": "module" if pitch.is_module else "circular",
    }


def _held(design: Design, most: int) -> dict[str, Any]:
    """What is built and stays: [ring, teeth]; of each body the rings on which it may ride, where some are held; [link,
    ratio, number of third gears]."""
    made = design.on_bench
    bodies = range(len(design.bodies)) if made.held else ()
    links = ([one.link, f"{one.wheel}/{one.pinion}", KIND_BY_NAME[one.kind].thirds] for one in made.links)
    return {
        "held_rings": [[one.ring, one.teeth] for one in made.held if one.teeth is not None],
        "held_seats": [list(made.seats_of(body, range(most))) for body in bodies],
        "held_links": list(links),
    }


def _best(train: Train) -> dict[str, Any]:
    links = [[f"{link.wheel}/{link.pinion}", KIND_BY_NAME[link.kind].thirds] for link in train.links]
    return {"rings": list(train.rings), "seats": list(train.seats), "links": links}


def best_of(design: Design, solutions: list[SolutionAnswer]) -> tuple[Train, Fraction] | None:
    """The train with the least worst error among an answer's solutions, and (1 + error)**2 as the judge finds it."""
    found: list[tuple[Fraction, int, Train]] = []
    for solution in solutions:
        train = train_of(design, solution)
        square = judge(made_as(design, solution), train).error_square
        assert square is not None
        found.append((square, solution.rank, train))
    if not found:
        return None
    square, _, train = min(found)
    return train, square


def trains_told(case: int, trains: Trains) -> dict[str, Any]:
    """An exception as plain data."""
    links = [[str(ratio), thirds] for ratio, thirds in trains.links]
    return {"case": case, "seats": list(trains.seats), "links": links}


def worded(claim: dict[str, Any], cases: int) -> None:
    """Say the claim, and what it rests on, in words."""
    square, strict, better = Fraction(claim["square"]), claim["strict"], len(claim["better"])
    error = f"{_floor(error_below(square, 100))} %"
    what = f"has a worst error below {error}" if strict else f"keeps every body within {error} and its own limit"
    but = f", but for {better} that are listed: by their teeth they are better" if better else ""
    claim["claim"] = f"No train of these rings and gears {what}{but}."
    if claim["best_is_worse"]:
        claim["claim"] += " Of trains with a larger error, teeth alone do not decide."
    arbors, rings = claim["arbors"], claim["rings"]
    plain = ", with the wheel's less the pinion's equal to the step between their rings" if arbors["reverted"] else ""
    claim["rests_on"] = [
        f"{so_many(cases, 'choice')} of rings ({_rings(rings)}), {min(rings['counts'])} to {max(rings['counts'])} rings"
        " in all, the first and the last of them with a body, the other bodies in their order on any of those between.",
        f"Wheels of {_range(arbors['wheel'])} teeth, pinions of {_range(arbors['pinion'])} teeth{plain}.",
        f"At most {arbors['third_gears']} third gears of {_range(arbors['third'])} teeth, none or one on a side, which"
        f" keeps the gear behind it clear of its ring by {_clear_text(claim)}."
        if arbors["third_gears"]
        else "No third gears.",
        *_held_text(claim),
        "Not used, as leaving out more can only make fewer trains: frame, how pairs run, places, posts,"
        " arms, jigs, all teeth, envelopes.",
        f"Logarithms of ratios are rounded down to 1/{claim['scale']}, all windows outwards by as many of these as"
        " parts were rounded.",
        f"Trains within the rounding: {len(claim['exceptions'])}, told apart exactly; none of them is better.",
    ]
    if better:
        claim["rests_on"].append(
            f"{better} trains are better by their teeth; that none of them can be built (frame, places, how pairs run,"
            " jigs, teeth, envelope) is no part of this certificate."
        )


def _clear_text(claim: dict[str, Any]) -> str:
    clear = claim["arbors"]["clear"]
    if not claim["arbors"]["reverted"]:
        return "whatever it takes"
    of = f"{'module' if clear['unit'] == 'module' else 'tooth pitch'} {clear['pitch']} mm"
    reach = f"the ring reaches {clear['ring']} mm, the gear {clear['behind']} mm, {clear['clearance']} mm between them"
    return f"{TeethClaim(claim).clear} or more teeth of radius ({of}; {reach})"


def _held_text(claim: dict[str, Any]) -> list[str]:
    """What is built and stays, in words; links and rings are counted from 0, as in the claim's numbers."""
    seats = zip(claim["bodies"], claim["held_seats"], strict=False)
    told = [f"ring {ring} of {teeth} teeth" for ring, teeth in claim["held_rings"]]
    told += [f"{body['name']} on ring {_range(rings)}" for body, rings in seats]
    told += [f"link {link} of {ratio} with {so_many(n, 'third gear')}" for link, ratio, n in claim["held_links"]]
    return [f"Built already, and staying: {'; '.join(told)} (counted from 0)."] if told else []


def _rings(rings: dict[str, Any]) -> str:
    if rings["teeth"] is not None:
        return "teeth of each: " + "; ".join(_range(one) for one in rings["teeth"])
    return f"inner ring of {_range(rings['inner_teeth'])} teeth, step of {_range(rings['tooth_step'])}"


def _range(values: list[int]) -> str:
    if not values:
        return "no"
    if len(values) > 1 and values == list(range(values[0], values[-1] + 1)):
        return f"{values[0]} to {values[-1]}"
    return ", ".join(map(str, values))


def _floor(percent: float) -> str:
    """As many digits as are read, rounded down, as of a bound."""
    return f"{math.floor(percent * 10**9) / 10**9:.9f}"


def readme(claim: dict[str, Any]) -> str:
    """What a certificate's folder tells a stranger."""
    rests = "\n".join(f"- {one}" for one in claim["rests_on"])
    return README.format(claim=claim["claim"], rests=rests, title=claim["title"], design=claim["design_sha256"])


README = """A certificate: {title}

{claim}

This rests on:
{rests}

claim.json     the claim in numbers: periods, tooth counts, (1 + E)**2 as `square`; design {design}
model.json.gz  constraints that each such train would have to keep, one a line, by choice of rings (`case`)
proof.json.gz  the steps, written by the solver `pumpkin-solver`, that show that no train can keep them all

To check it, without any solver:   ringwright check FOLDER
or with Python 3.11 and nothing else:   python -m solver.check.certificate FOLDER
The program that checks is the folder `solver/check/certificate` of Ringwright. It is short, and each rule that it
accepts is stated in it with why it is sound; read it, or write your own. The reference is `docs/certificate.md`.
"""
