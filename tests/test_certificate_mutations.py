"""Certificates that were tampered with: what makes one unsound is refused; what is accepted says what is so."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

pytest.importorskip("pumpkin_solver")

from certificates import DESIGNS, least, true, write, written

from solver.check.certificate.check import check_certificate
from solver.check.certificate.claim import DoesNotHold, Unreadable

Texts = tuple[str, str, str]


def number_off(rng: random.Random, line: str, marks: str = "") -> str:
    """One of a line's numbers one more or one less."""
    words = line.replace("[", "[ ").replace("]", " ]").replace(",", " ,").split(" ")
    at = [i for i, word in enumerate(words) if word.lstrip("-").isdigit()]
    if not at:
        return line
    i = rng.choice(at)
    words[i] = str(int(words[i]) + rng.choice((-1, 1)))
    return " ".join(words).replace("[ ", "[").replace(" ]", "]").replace(" ,", ",")


def in_lines(change: Callable[[random.Random, list[str], int], None], which: int, begin: str = ""):
    """A change of the lines of the model (1) or of the proof (2), at one that begins so."""

    def changed(rng: random.Random, texts: Texts) -> Texts:
        lines = texts[which].splitlines()
        at = [i for i, line in enumerate(lines) if line.startswith(begin)]
        if at:
            change(rng, lines, rng.choice(at))
        found = list(texts)
        found[which] = "\n".join(lines) + "\n"
        return found[0], found[1], found[2]

    return changed


def leave_out(rng, lines, at):
    del lines[at]


def twice(rng, lines, at):
    lines.insert(at, lines[at])


def off(rng, lines, at):
    lines[at] = number_off(rng, lines[at])


def swap(rng, lines, at):
    other = rng.randrange(len(lines))
    lines[at], lines[other] = lines[other], lines[at]


def in_step(change: Callable[[random.Random, list], None]):
    """A change of a step of the proof, `[number, facts, hints, dropped]`."""

    def changed(rng, lines, at):
        step = json.loads(lines[at])
        change(rng, step)
        lines[at] = json.dumps(step)

    return in_lines(changed, 2, "[")


def number(rng, step):
    step[0] += rng.choice((-1, 1))


def sharper(rng, step):
    """A fact one unit narrower or wider."""
    if step[1]:
        rng.choice(step[1])[2] += rng.choice((-1, 1))


def contrary(rng, step):
    if step[1]:
        fact = rng.choice(step[1])
        fact[1] = rng.choice([op for op in ("<=", ">=", "==", "!=") if op != fact[1]])


def variable(rng, step):
    if step[1]:
        fact = rng.choice(step[1])
        fact[0] = fact[0][0] + str(int(fact[0][1:]) + rng.choice((-1, 1)))


def fact_less(rng, step):
    if step[1]:
        step[1].pop(rng.randrange(len(step[1])))


def hint_less(rng, step):
    step[2].pop(rng.randrange(len(step[2])))


def hints_shuffled(rng, step):
    rng.shuffle(step[2])


def another_hint(rng, step):
    step[2][rng.randrange(len(step[2]))] += rng.choice((-1, 1))


def dropped(rng, step):
    """A step dropped that is still used, or kept that is not."""
    if step[3] and rng.random() < 0.5:
        step[3].pop()
    else:
        step[3].append(rng.choice(step[2]))


def term(rng, lines, at):
    """A term of a constraint less."""
    one = json.loads(lines[at])
    if len(one[2]) > 1:
        one[2].pop(rng.randrange(len(one[2])))
    lines[at] = json.dumps(one)


def kind(rng, lines, at):
    lines[at] = lines[at].replace('"most"', '"sum"') if "most" in lines[at] else lines[at].replace('">="', '"=="')


def in_claim(change: Callable[[random.Random, dict], None]):
    def changed(rng: random.Random, texts: Texts) -> Texts:
        claim = json.loads(texts[0])
        change(rng, claim)
        return (texts[0] if claim == json.loads(texts[0]) else json.dumps(claim)), texts[1], texts[2]

    return changed


def bound(rng, claim):
    claim["square"] = str(Fraction(claim["square"]) * (1 + Fraction(rng.choice((-1, 1)), 10 ** rng.randint(1, 12))))


def period(rng, claim):
    body = rng.choice(claim["bodies"])
    name = rng.choice(("low", "high", "both"))
    factor = 1 + Fraction(rng.choice((-1, 1)), 10 ** rng.randint(1, 9))
    for one in ("low", "high") if name == "both" else (name,):
        body[one] = str(Fraction(body[one]) * factor)


def teeth(rng, claim):
    where, name = rng.choice(
        [*((claim["arbors"], name) for name in ("wheel", "pinion", "third"))]
        + [(claim["rings"], name) for name in ("counts", "inner_teeth", "tooth_step")]
    )
    values = where[name]
    if rng.random() < 0.5 and values:
        values.pop(rng.randrange(len(values)))
    else:
        values.append(max(values, default=5) + 1)


def limits(rng, claim):
    name, value = rng.choice(
        [
            ("max_parts", rng.randint(5, 20)),
            ("scale", rng.choice((10**5, 10**6 + 1))),
            ("reference", rng.choice(("first", "best"))),
            ("strict", not claim["strict"]),
            ("max_error", "0.02"),
        ]
    )
    claim[name] = value


def bodies(rng, claim):
    body = rng.choice(claim["bodies"])
    body[rng.choice(("sense", "cap"))] = rng.choice(("same", "reverse", "either", None, "0.01", "0.4"))


def thirds(rng, claim):
    claim["arbors"]["third_gears"] += rng.choice((-1, 1))


def clearance(rng, claim):
    name = rng.choice(("ring", "behind", "clearance", "pitch", "unit"))
    values = {"pitch": ("1", "20"), "unit": ("module", "circular")}.get(name, ("1", "3", "-2"))
    claim["arbors"]["clear"][name] = rng.choice(values)


def held(rng, claim):
    name, more = rng.choice(
        [
            ("held_rings", [1, rng.choice((24, 25, 30))]),
            ("held_links", [0, rng.choice(("7/4", "8/5", "9/4")), rng.choice((0, 1))]),
            ("held_seats", None),
        ]
    )
    last = max(claim["rings"]["counts"])
    rings = [rng.sample(range(last), rng.randint(1, last)) for _ in claim["bodies"]]
    claim[name] = rings if more is None else [*claim[name], more]


def exceptions(rng, claim):
    name = rng.choice(("exceptions", "better"))
    if claim[name] and rng.random() < 0.6:
        one = claim[name].pop(rng.randrange(len(claim[name])))
        if rng.random() < 0.5:
            claim["exceptions" if name == "better" else "better"].append(one)
    elif claim["best"]:
        claim[name].append({"case": 0, "seats": claim["best"]["seats"], "links": claim["best"]["links"]})


def best(rng, claim):
    if claim["best"]:
        link = rng.choice(claim["best"]["links"])
        link[0] = rng.choice(("7/5", "9/4", "11/6", "8/8", link[0]))
        link[1] = rng.choice((0, 1, 2, link[1]))


MUTATIONS = {
    "a constraint left out": in_lines(leave_out, 1, "["),
    "a number of a constraint": in_lines(off, 1, "["),
    "a term of a constraint left out": in_lines(term, 1, "["),
    "another kind of constraint": in_lines(kind, 1, "["),
    "a constraint twice": in_lines(twice, 1, "["),
    "constraints change places": in_lines(swap, 1, "["),
    "a step left out": in_lines(leave_out, 2, "["),
    "a step twice": in_lines(twice, 2, "["),
    "steps change places": in_lines(swap, 2, "["),
    "a number of a line of the proof": in_lines(off, 2),
    "another number of a step": in_step(number),
    "a fact one unit off": in_step(sharper),
    "a fact turned round": in_step(contrary),
    "a fact of another variable": in_step(variable),
    "a fact left out": in_step(fact_less),
    "a hint left out": in_step(hint_less),
    "hints in another order": in_step(hints_shuffled),
    "another hint": in_step(another_hint),
    "another step dropped": in_step(dropped),
    "another bound": in_claim(bound),
    "another period": in_claim(period),
    "other teeth": in_claim(teeth),
    "other limits": in_claim(limits),
    "another sense or limit of a body": in_claim(bodies),
    "more or fewer third gears": in_claim(thirds),
    "another clearance": in_claim(clearance),
    "something held": in_claim(held),
    "other exceptions": in_claim(exceptions),
    "another best train": in_claim(best),
}
TIMES = 7  # of each mutation, for each design: 30 * 7 * 8 = 1680


def tampered(name: str, times: int, folder: Path) -> tuple[Counter, Counter]:
    """How often each mutation of a design's certificate was refused and accepted. What is accepted has to be so."""
    refused, accepted = Counter(), Counter()
    texts = written(name)
    for told, change in MUTATIONS.items():
        rng = random.Random(f"{name} {told}")
        for number in range(times):
            for _ in range(20):
                changed = change(rng, texts)
                if changed != texts:
                    break
            else:
                continue
            write(folder, *changed)
            try:
                checked = check_certificate(folder)
            except (DoesNotHold, Unreadable) as fault:
                assert str(fault)
                refused[told] += 1
                continue
            accepted[told] += 1
            assert true(changed[0]), (name, told, number)
            if checked.best.endswith("exactly the error E"):
                assert (
                    least(changed[0]) == Fraction(json.loads(changed[0])["square"]) or json.loads(changed[0])["better"]
                )
    return refused, accepted


@pytest.mark.deep
@pytest.mark.parametrize("name", ["thirds"])
def test_what_is_tampered_with_is_refused_or_harmless(name, tmp_path):
    refused, accepted = tampered(name, 2, tmp_path)
    assert sum(refused.values()) > 2 * sum(accepted.values())


@pytest.mark.deep
def test_more_than_a_thousand_mutations(tmp_path, capsys):
    refused, accepted = Counter(), Counter()
    for name in DESIGNS:
        some, others = tampered(name, TIMES, tmp_path / name)
        refused, accepted = refused + some, accepted + others
    with capsys.disabled():
        for told in MUTATIONS:
            print(f"| {told} | {refused[told]} | {accepted[told]} |")
        print(f"| all | {sum(refused.values())} | {sum(accepted.values())} |")
    assert sum(refused.values()) + sum(accepted.values()) > 1000


@pytest.mark.parametrize("name", DESIGNS)
def test_the_certificates_themselves_hold_and_are_so(name, tmp_path):
    texts = written(name)
    write(tmp_path, *texts)
    check_certificate(tmp_path)
    assert true(texts[0])
    found = least(texts[0])
    square = Fraction(json.loads(texts[0])["square"])
    assert found is None or found == square or json.loads(texts[0])["better"] or not json.loads(texts[0])["strict"]
