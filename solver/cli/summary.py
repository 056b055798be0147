"""An answer in sentences: what is known, why the search ended, under which limits."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from solver.answer.document import Answer, ProofAnswer, ProofOutcome, SolutionAnswer, Status
from solver.answer.standing import twice
from solver.cli.numbers import exact_length_text, key_names, percent
from solver.design.design import Design
from solver.design.errors import show_numbers, so_many
from solver.design.geometry import mm_in
from solver.design.toothing import toothings
from solver.search.sagged import sagging_of
from solver.search.stop import Termination
from solver.words.numbers import percent_at_least


def summary(design: Design, answer: Answer) -> str:
    """The line that says what is known, and no more."""
    best = answer.solutions[0] if answer.solutions else None
    bound = answer.bound_worst_error_pct
    match answer.status:
        case Status.OPTIMAL:
            assert best is not None
            count = min(len(answer.solutions), design.keep)
            listed = f"these are the first {count} solutions in order"
            if count < design.keep:
                listed = "the only solution" if count == 1 else f"these {count} solutions are all there are"
            elif count == 1:
                listed = "search.keep asks for no more"
            listed += open_text(answer)
            figures = f"worst error {percent(best.worst_error_pct)} %, {best.parts} parts, {so_many(best.jigs, 'jig')}"
            by = "" if design.rank[0] == "error" else f" by {', then '.join(key_names(design.rank))}"
            return f"proven best{by}{twice(answer.proofs)}: {figures}; {listed}"
        case Status.FEASIBLE:
            assert best is not None
            why = reason_text(answer.termination)
            found = f"not proven ({why}): best found has worst error {percent(best.worst_error_pct)} %"
            if design.rank[0] != "error":
                return f"{found}, {_leading_key(design, answer, best)}"
            if bound:
                return f"{found}; none is below {percent_at_least(bound)} %"
            return f"{found}; how far off that is, is not known"
        case Status.INFEASIBLE:
            return f"proven{twice(answer.proofs)}: no solution meets these limits"
        case Status.UNKNOWN:
            return f"nothing known yet ({reason_text(answer.termination)}): no solution found, none ruled out"


def open_text(answer: Answer) -> str:
    """Of how many solutions it is open whether their places are those that the design prefers; "" for none."""
    count = sum(solution.arranged == "open" for solution in answer.solutions)
    return f"; whether fit.arrange prefers other places is open for {count} of them" if count else ""


def proof_text(proof: ProofAnswer) -> str:
    """A second proof: who says what, how finely, of how many structures, with places or without."""
    fine = f"errors to {Decimal(f'{proof.tolerance_pct:.1g}'):f} %, never exactly"
    places = "with places" if proof.places else "teeth alone exclude it"
    what = {
        ProofOutcome.CONFIRMED: f"confirmed by {proof.method} ({places}; {fine})",
        ProofOutcome.OPEN: f"not settled in time by {proof.method}",
        ProofOutcome.REFUTED: f"refuted by {proof.method}",
    }[proof.outcome]
    return f"{proof.claim}, of {so_many(proof.structures, 'structure')}: {what}"


def _leading_key(design: Design, answer: Answer, best: SolutionAnswer) -> str:
    """The value of the first rank key, where that is not the error, and what is known of the least there is."""
    key, least = design.rank[0], answer.least_first_key
    if key == "envelope":
        known = (
            f"; none has a smaller one than {exact_length_text(least, design.units)} {design.units}" if least else ""
        )
        return f"radius {exact_length_text(best.envelope_mm, design.units)} {design.units}{known}"
    return f"{key} {getattr(best, key)}" + (f"; none has fewer {key} than {least}" if least else "")


REASONS = {
    Termination.PROVED: "proven",
    Termination.TIME: "the time limit search.time_limit_s struck",
    Termination.INTERRUPT: "interrupted",
    Termination.WORK: "as many steps were made as were allowed",
    Termination.CROWDED: "too many solutions share the best error to order them",
    Termination.THIRDS: "too many third gears to try out all their sizes: allow fewer arbors.third_gears or "
    "arbors.third_teeth",
}


def reason_text(termination: Termination) -> str:
    """Why a search ended, for a maker."""
    return REASONS[termination]


def _staying(design: Design) -> list[str]:
    """What [made] holds where it is."""
    made = design.on_bench
    links = [f"link {one.link} stays {one.wheel}/{one.pinion}" for one in made.links]
    rings = [one.ring for one in made.held]
    return [*links, *([f"made.rings holds ring {', '.join(map(str, rings))}"] if rings else [])]


def limits_text(design: Design) -> str:
    """The limits in force, for a maker who has to choose what to loosen."""
    arbors, limits, rings = design.arbors, design.limits, design.rings
    words = [
        f"arbors.wheel_teeth {show_numbers(arbors.wheel_teeth)}",
        f"arbors.pinion_teeth {show_numbers(arbors.pinion_teeth)}",
        f"arbors.third_gears {arbors.third_gears}",
        f"rings.blanks {show_numbers(rings.blanks)}",
    ]
    if rings.tooth_step and arbors.reverted:
        words.append(f"rings.tooth_step {show_numbers(rings.tooth_step)} (wheel less pinion of a plain link)")
    words.append(f"search.max_error_pct {float(limits.max_error) * 100:g}")
    words += [f"{body.name} max_error_pct {float(body.cap) * 100:g}" for body in design.bodies if body.cap is not None]
    words += [f"{body.name} sense {body.sense}" for body in design.bodies if body.sense == "reverse"]
    for key in ("parts", "jigs", "teeth", "largest", "new_gears"):
        limit = getattr(limits, f"max_{key}")
        words += [f"search.max_{key} {limit}"] if limit is not None else []
    words += _staying(design)
    if limits.max_envelope is not None:
        unit = mm_in(design.units)
        words.append(f"search.max_envelope {float(limits.max_envelope / unit):g} {design.units}")
    words += _fit_limits(design)
    if design.as_made:
        words.append(f"fit.unevenness {float(design.unevenness):g} of a pitch; every mesh runs as made by [wire]")
        words += _third_words(design)
    return "limits in force: " + "; ".join(words)


def _wishes(design: Design) -> list[str]:
    """Where links are asked to stand, and what is kept free."""
    words = []
    for one in design.fit.link_places:
        end = f" to {float(one.sector.end):g}°" if one.sector.turn else "°"
        words.append(f"fit.link {one.link} at {float(one.sector.begin):g}{end}")
    for sector in design.fit.keep_free:
        end = f" to {float(sector.end):g}°" if sector.turn else "°"
        words.append(f"fit.keep_free {float(sector.begin):g}{end}")
    return words


def _third_words(design: Design) -> list[str]:
    """What third gears have, where that is not the usual."""
    if design.third_toothing == "teeth":
        return ["third gears have short teeth, the gears behind them pins"]
    if design.third_toothing == "better":
        return ["third gears have pins, or short teeth and the gears behind them pins"]
    return []


def _fit_limits(design: Design) -> list[str]:
    fit, frame = design.fit, design.fit.frame
    if fit.directions is None:
        return []
    unit = float(mm_in(design.units))

    def length(millimetres: Fraction) -> str:
        return f"{float(millimetres) / unit:g}"

    words = []
    if frame is not None:
        sizes = [frame.width] if frame.shape in ("square", "round") else [frame.width, frame.height]
        depth = f", depth {length(frame.depth)}" if frame.depth is not None else ""
        words.append(f"fit.frame {frame.shape} {' by '.join(map(length, sizes))}{depth} {design.units}")
    words.append(f"fit.clearance {length(fit.clearance)} {design.units}")
    words.append(f"fit.directions {len(fit.directions)}")
    words += [f"fit.{key} {getattr(fit, key)}" for key in ("plate", "stands") if getattr(fit, key) != "none"]
    if fit.rollers is not None:
        words.append(
            f"fit.rollers {show_numbers(fit.rollers.count)} of radius {length(fit.rollers.radius)} {design.units}, "
            f"reach {float(fit.rollers.reach):g}°"
        )
    words += _wishes(design)
    if design.drive is not None:
        words.append("drive")
    if design.supports is not None and design.armed:
        words.append(f"supports.arm {length(design.supports.arm_mm)} {design.units}")
    sagging = sagging_of(toothings(design)[0])
    if sagging is not None:
        words.append(f"supports.sag {sagging.limit_mm / unit:g} {design.units} {'hung' if sagging.hung else 'on feet'}")
    return words
