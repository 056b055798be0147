"""The first page: the form as it begins, as it was sent, or filled from a file or a job; and what is sent with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from solver.design.errors import Complaint, DesignError, so_many
from solver.service.errors import CheckFailed, TooMany, TooSlow, status_of
from solver.service.file_names import file_name, named
from solver.service.jobs.jobs import Jobs
from solver.service.kept.explanations import explained_point
from solver.service.page import form
from solver.service.page.form_faults import FieldFault, faults_of
from solver.service.page.form_field import Field
from solver.service.page.form_file import HOW, MOST_CHARACTERS, REST, Typed, file_so_far, typed_from, typed_of
from solver.service.page.form_start import Begun, beginning, begun_anew
from solver.service.page.rendering import page
from solver.service.page.varied import varied_words

JOBS_SHOWN = 50
_MEANT = "This can be submitted."
Pairs = list[tuple[str, str]]


@dataclass(frozen=True)
class StartShown:
    """What the page shows. typed: the form; said: what became of it, or why a text was not taken; faults: of the form;
    state: what is known of its file; text, box_faults: the box for a whole file; origin: where the form is from."""

    typed: Typed
    said: str = ""
    faults: tuple[FieldFault, ...] = ()
    state: str = ""
    text: str = ""
    box_faults: tuple[Complaint, ...] = ()
    begun: Begun | None = None
    origin: dict[str, str] | None = None
    filled: bool = False


def start_page(jobs: Jobs, locked: bool, shown: StartShown, offset: int = 0, status: int = 200) -> HTMLResponse:
    """The page. offset: of the list of jobs."""
    found, total = jobs.listing(offset, JOBS_SHOWN)
    typed = shown.typed
    beside: dict[str, list[str]] = {}
    for fault in shown.faults:
        beside.setdefault(fault.at, []).append(fault.text)
    return page(
        "start.html",
        status,
        jobs=found,
        total=total,
        offset=offset,
        shown=JOBS_SHOWN,
        groups=form.GROUPS,
        bodies={one.path: one for one in form.BODIES},
        sets=form.sets(),
        typed=typed,
        how=" ".join(sorted(typed.how)),
        names={"rest": REST, "how": HOW, "only": form.ONLY},
        opened={group.name for group in form.GROUPS if _needed(group.fields, shown)},
        unfolded={group.name for group in form.GROUPS if _needed(group.more, shown)},
        beside=beside,
        first_fault=shown.faults[0].at if shown.faults else "",
        page_shown=shown,
        file=file_so_far(typed)[0],
        locked=locked,
    )


def _needed(fields: tuple[Field, ...], shown: StartShown) -> bool:
    """Whether folded fields are to be seen: one of them is wrong, or holds something that it does not begin with."""
    begun = beginning()
    at = {fault.at for fault in shown.faults}
    return any(
        one.path in at or (one.counts(shown.typed.values) and shown.typed[one.path] not in ("", begun[one.path]))
        for one in fields
    )


def first_page(jobs: Jobs, locked: bool, offset: int) -> Response:
    """The form as it begins."""
    return start_page(jobs, locked, StartShown(beginning()), offset)


# -- what is sent ------------------------------------------------------------------------------------------------------


def posted(jobs: Jobs, locked: bool, pairs: Pairs, sender: str) -> Response:
    """What a browser sends, by the button that was pressed: the form or the text to be submitted, checked, saved, or
    the form to be filled anew."""
    fields = dict(pairs)
    action, text = fields.get("action", "text"), fields.get("text", "").replace("\r\n", "\n")
    if action == "text":
        return _text_sent(jobs, locked, text, sender)
    if action == "fill":
        return _filled(jobs, locked, text)
    typed = typed_of(pairs)
    if action in ("begin", "anew"):
        begun = begun_anew(typed, action == "anew")
        return start_page(jobs, locked, StartShown(begun.typed, begun=begun))
    if action == "file":
        return _download(typed)
    told = checked(jobs, typed)
    shown = StartShown(typed, "", told.faults, told.state)
    if action == "check" or told.faults:
        return start_page(jobs, locked, shown, status=422 if told.faults else 200)
    try:
        view, _ = jobs.submit(told.text, None, "toml", sender)
    except DesignError as fault:
        return start_page(jobs, locked, StartShown(typed, "", faults_of(fault.complaints, typed)), status=422)
    except (TooMany, TooSlow, CheckFailed) as fault:
        return start_page(jobs, locked, StartShown(typed, str(fault)), status=status_of(fault))
    return RedirectResponse(f"/jobs/{view.id}", 303)


@dataclass(frozen=True)
class CheckedForm:
    """text: the file that the form makes; faults: what is wrong; state: that in a sentence."""

    text: str
    faults: tuple[FieldFault, ...]
    state: str


def checked(jobs: Jobs, typed: Typed) -> CheckedForm:
    """The file that a form makes, and whether it can be submitted. Raises TooSlow and CheckFailed."""
    text, unread = file_so_far(typed)
    faults = faults_of(unread, typed)
    if not faults:
        try:
            found = jobs.check(text)
        except DesignError as fault:
            faults = faults_of(fault.complaints, typed)
    if faults:
        many = "1 thing is" if len(faults) == 1 else f"{len(faults)} things are"
        labels = list(dict.fromkeys(one.label for one in faults if one.label))
        where = ", ".join(labels[:3]) + (" and more" if len(labels) > 3 else "")
        return CheckedForm(text, faults, f"{many} wrong{': ' + where if where else ''}; it cannot be submitted yet.")
    sweep = f"A sweep: {so_many(found.points, 'design')}, each solved by itself. " if found.kind == "sweep" else ""
    return CheckedForm(text, (), f"{sweep}{_MEANT}{'' if found.places else ' It chooses no places.'}")


def form_document(jobs: Jobs, pairs: Pairs) -> Response:
    """The same for the page's script: the file, its state, and each fault with the field beside which it is said."""
    told = checked(jobs, typed_of(pairs))
    faults = [{"at": one.at, "label": one.label, "text": one.text} for one in told.faults]
    return JSONResponse({"text": told.text, "state": told.state, "faults": faults})


def _text_sent(jobs: Jobs, locked: bool, text: str, sender: str) -> Response:
    try:
        view, _ = jobs.submit(text, None, "json" if text.lstrip().startswith("{") else "toml", sender)
    except DesignError as fault:
        return start_page(jobs, locked, StartShown(beginning(), text=text, box_faults=fault.complaints), status=422)
    except (TooMany, TooSlow, CheckFailed) as fault:
        return start_page(jobs, locked, StartShown(beginning(), str(fault), text=text), status=status_of(fault))
    return RedirectResponse(f"/jobs/{view.id}", 303)


def _filled(jobs: Jobs, locked: bool, text: str) -> Response:
    try:
        typed = typed_from(text)
    except DesignError as fault:
        return start_page(jobs, locked, StartShown(beginning(), text=text, box_faults=fault.complaints), status=422)
    return start_page(jobs, locked, StartShown(typed, filled=True))


def _download(typed: Typed) -> Response:
    headers = {**named(file_name(typed["title"], ".toml")), "cache-control": "no-store"}
    return Response(file_so_far(typed)[0], media_type="application/toml", headers=headers)


# -- a job that is changed ---------------------------------------------------------------------------------------------


def change_page(jobs: Jobs, locked: bool, job: str, point: str) -> Response:
    """The form filled from the file of a job, or of a point of it. Raises NoSuchJob, NoSuchSolution where there is no
    such point, StoreError and OSError."""
    view = jobs.view(job)
    text, settings = jobs.text(job), ""
    if point and view.kind == "sweep":
        found = jobs.told(job, lambda results: explained_point(results, point))
        text, settings = found.text, varied_words(found.settings)
    origin: dict[str, Any] = {"job": view.id, "title": view.title, "settings": settings}
    if len(text) > MOST_CHARACTERS:
        said = "The file is too long for the form; it stands in the box below."
        return start_page(jobs, locked, StartShown(beginning(), said, text=text, origin=origin))
    return start_page(jobs, locked, StartShown(typed_from(text), origin=origin, filled=True))
