"""A setting on the terminal: where the bodies stand, what is done at each link, when two bodies meet."""

from __future__ import annotations

from collections.abc import Iterable

from rich.table import Table

from solver.cli.tables import Paper, plain_table
from solver.sky.document import SettingDocument
from solver.sky.meeting_rows import HEADINGS, MeetingRows
from solver.sky.meeting_rows import told as told_meetings
from solver.sky.paths import rounded_turn

TRUE_LESS_MEAN = "true-mean °"


def print_setting(paper: Paper, document: SettingDocument, teeth: bool = False) -> None:
    """The setting as a table, with teeth also what is done at each link, and its notes."""
    paper.heading(f"{document.title}, solution {document.rank}")
    when = f"{document.date_utc.removesuffix('Z').replace('T', ' ')} {'UTC' if document.date_utc >= '1960' else 'UT1'}"
    paper.line(f"{when}, which is {document.date.replace('T', ' ')} TT")  # as a title it would break over a small table
    paper.print(setting_table(document))
    if teeth and document.links:
        paper.line("Into the gears; counterclockwise is positive")
        paper.print(links_table(document))
    side = f"longitude 0 at {document.zero_deg:g}, the system seen from its {document.seen_from}"
    paper.print(notes_grid([
        f"ring at: degrees counterclockwise from the right, seen from the front; {side}",
        f"{TRUE_LESS_MEAN}: at this date; at most: how large it gets",
        *document.notes,
    ]))  # fmt: skip


def notes_grid(notes: Iterable[str]) -> Table:
    """Notes below a table, each with its lines under one another."""
    grid = Table.grid(padding=(0, 1))
    for note in notes:
        grid.add_row("-", note)
    return grid


def setting_table(document: SettingDocument) -> Table:
    """Each body with its longitudes and the angle of its ring, all in degrees."""
    columns = ("body", "mean °", "true °", TRUE_LESS_MEAN, "at most °", "ring at °")
    table = plain_table("", columns, left=("body",))
    for body in document.bodies:
        table.add_row(
            body.name,
            _place(body.mean_longitude_deg),
            "" if body.true_longitude_deg is None else _place(body.true_longitude_deg),
            "" if body.equation_deg is None else f"{round(body.equation_deg, 2) + 0.0:+.2f}",
            "" if body.greatest_equation_deg is None else f"{body.greatest_equation_deg:.2f}",
            _place(body.ring_angle_deg),
        )
    return table


def links_table(document: SettingDocument) -> Table:
    """What is done at each link, from the inside out, and how far the body beyond is off then."""
    columns = ("link", "ring beyond", "turn the wheel by", "turn the ring by", "its body is off by")
    table = plain_table("", columns, left=("ring beyond",))
    off = {body.name: body.left_over_deg for body in document.bodies}
    for link in document.links or ():
        left = off.get(link["ring"])
        moved = link["wheel_teeth"] or link["ring_teeth"]
        table.add_row(
            str(link["link"]),
            link["ring"],
            _teeth(link["wheel_teeth"]) if moved else "leave it",
            f"{link['ring_turn_deg'] + 0.0:+.2f}°" if moved else "",
            "" if left is None else f"{round(left, 2) + 0.0:+.2f}°",
        )
    return table


def print_meetings(paper: Paper, found: MeetingRows) -> None:
    """The next meetings of two bodies: truly, by mean longitudes, and as the model shows them when set at the date."""
    title = f"{found.a} and {found.b}: {found.word}s seen from the centre, UTC"
    if not found.rows:
        paper.line("")
        paper.line(f"no {found.word} of {found.a} and {found.b} is known after this date: the sources end before")
        return
    table = plain_table("", HEADINGS, left=HEADINGS[:3])
    for row in told_meetings(found):
        table.add_row(*row)
    paper.line("")
    paper.line(title)
    paper.print(table)
    if found.why:
        paper.line(found.why)


def _place(angle: float) -> str:
    return f"{rounded_turn(angle, 2):.2f}"


def _teeth(count: int) -> str:
    if count == 0:
        return "0 teeth"
    return f"{count:+d} {'tooth' if abs(count) == 1 else 'teeth'}"
