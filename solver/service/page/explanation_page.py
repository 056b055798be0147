"""The page that says why nothing fits a design, and offers what would do, each at one click."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from solver.design.errors import DesignError, so_many
from solver.files.text import data_of
from solver.service.jobs.explained import ExplanationView, ToldExplanation, WhyAsked, unexplainable
from solver.service.page.rendering import rendered
from solver.service.page.wording import percent
from solver.words.limits import limit_words, with_unit

TAKE = "take"


@dataclass(frozen=True)
class LimitLine:
    """A limit for a reader: what it is ("" where there are no words for it), its field in the file, its value."""

    what: str
    field: str
    now: str
    then: str = ""
    needed: bool = True

    @property
    def name(self) -> str:
        """What it is, or else its field."""
        return f"{self.what[:1].upper()}{self.what[1:]}" if self.what else self.field


@dataclass(frozen=True)
class Offer:
    """A loosening. said: what has a solution then; least: it is known that less is not enough; ready: it can be
    taken."""

    number: int
    changes: tuple[LimitLine, ...]
    said: str
    least: bool
    ready: bool

    @property
    def short(self) -> str:
        """Its fields and values alone."""
        return ", ".join(f"{one.field} {one.now} → {one.then}" for one in self.changes)


def explanation_page(asked: WhyAsked, now: ExplanationView, locked: bool) -> bytes:
    """As UTF-8. locked: whether a token is needed here."""
    told = _FileWords(asked.point.text)
    known = now.explanation
    return rendered(
        "explanation.html",
        locked=locked,
        job=asked.view,
        point=asked.point,
        several=asked.view.total > 1,
        now=now,
        cannot=unexplainable(asked.point),
        progress=progress_words(now),
        conflict=()
        if known is None
        else tuple(told.limit(one.field, one.now, needed=one.needed) for one in known.conflict),
        offers=() if known is None else _offers(told, known),
        left_open=() if known is None else tuple(told.limit(field, "") for field in known.left_open),
        remarks=() if known is None or now.state != "complete" else remarks(known),
    )


class _FileWords:
    """The words of one file: its units, its own bodies."""

    def __init__(self, text: str) -> None:
        try:
            data: dict[str, Any] = data_of(text, "")
        except DesignError:  # of another version
            data = {}
        self._units = str(data.get("units", "mm"))
        bodies = data.get("bodies")
        own = bodies.get("list", []) if isinstance(bodies, dict) else []
        self._bodies = [str(one.get("name", "")) for one in own if isinstance(one, dict)]

    def limit(self, field: str, now: str, then: str = "", needed: bool = True) -> LimitLine:
        now, then = (with_unit(field, value, self._units).replace("[wire]", "a tooth form") for value in (now, then))
        return LimitLine(limit_words(field, self._bodies), field, now, then, needed)


def _offers(told: _FileWords, known: ToldExplanation) -> tuple[Offer, ...]:
    return tuple(
        Offer(
            number,
            tuple(told.limit(change.field, change.now, change.then) for change in one.changes),
            said="It has a solution then." if one.worst_error_pct is None
            else f"The best solution then has an error of {percent(one.worst_error_pct)} %.",
            least=one.least,
            ready=one.file is not None,
        )
        for number, one in enumerate(known.loosenings, start=1)
    )  # fmt: skip


def progress_words(now: ExplanationView) -> str:
    """How far an explanation is."""
    if now.state == "waiting":
        return f"It waits for its turn; {so_many(now.ahead, 'other')} before it." if now.ahead else "It begins."
    if now.state == "working":
        since = "" if now.seconds is None else f", for {now.seconds:.0f} s so far"
        return f"It is being found out{since}{': ' + now.doing if now.doing else ''}."
    if now.state == "failed":
        return f"It could not be found out: {now.reason}."
    return ""


def remarks(known: ToldExplanation) -> tuple[str, ...]:
    """What is said at the end of an explanation that is there: what is sure, and what is not."""
    said = []
    stopped = known.termination != "proved"
    if known.feasible:
        return ("Something fits after all: solve the design again, with more time.",)
    if not all(one.needed for one in known.conflict):
        said.append("Which of these limits could be left out was too much work to settle.")
    elif known.loosenings and not known.conflict and not stopped:
        said.append("Which limits conflict was too much work to settle.")
    if stopped:
        said.append("It is not finished: a limit of time struck first.")
    elif known.loosenings:
        least = all(one.least for one in known.loosenings)
        how = "Each is the least that will do" if least else "Each may be more than is needed"
        said.append(f"{how}; each was confirmed by solving the design with it.")
    elif known.conflict and not known.left_open:
        said.append("No one of these loosened is enough, and no few together were found to be.")
    elif not known.left_open:
        said.append("Nothing fits even with every limit loosened as far as was tried; are the periods what you mean?")
    return tuple(said)
