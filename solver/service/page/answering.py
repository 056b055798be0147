"""How pages answer: in a thread, with a page that says why where there is no other; and the fields of their forms."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import parse_qsl

from anyio import CapacityLimiter, to_thread
from fastapi.responses import Response

from solver.batch.store.errors import StoreError
from solver.design.errors import DesignError
from solver.service.errors import STATUS, status_of
from solver.service.page.rendering import page

MOST_FIELDS = 1000  # of a form; ours has some two hundred
FAULTS: tuple[type[Exception], ...] = (*STATUS, StoreError, DesignError)  # that a page says something of


class PageAnswers:
    """locked: whether a token is needed, so that one can log out; at_a_time: how many are made at a time."""

    def __init__(self, locked: bool, at_a_time: int) -> None:
        self._locked = locked
        self._doing = CapacityLimiter(at_a_time)

    async def safely(self, answer: Callable[[], Response], limiter: CapacityLimiter | None = None) -> Response:
        """The answer, made in a thread; or a page that says why there is none. limiter: of others that are made at a
        time, where it is one of these."""
        try:
            return await to_thread.run_sync(answer, limiter=limiter or self._doing)
        except FAULTS as fault:
            return self.fault(fault)

    def fault(self, fault: Exception) -> Response:
        """A page that says why there is no other: what is wrong with a design is said as if it had been sent."""
        status, message = status_of(fault), str(fault)
        if isinstance(fault, DesignError):  # a message that begins with the path of a field has no capital letter
            status, message = 422, f"this is refused: {'; '.join(map(str, fault.complaints))}"
        return page("fault.html", status, code=status, message=message, locked=self._locked)


def form_fields(body: bytes) -> list[tuple[str, str]]:
    """The fields of a form as browsers send them, none where they are more than MOST_FIELDS; what is no UTF-8 is
    replaced, and refused later as no TOML."""
    text = body.decode("utf-8", "replace")
    try:
        return parse_qsl(text, True, encoding="utf-8", errors="replace", max_num_fields=MOST_FIELDS)
    except ValueError:
        return []
