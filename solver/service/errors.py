"""What can go wrong in the service, apart from a design itself (`DesignError`)."""

from __future__ import annotations

from importlib.util import find_spec

_LIBRARIES = ("fastapi", "uvicorn", "jinja2")


class ServiceError(RuntimeError):
    """The service cannot be started; the message is one line that says why and what helps."""


class NoSuchJob(LookupError):
    """There is no job of that name."""


class NoSuchSolution(LookupError):
    """The job has no such point, or the point no solution of that rank."""


class NotNow(RuntimeError):
    """The job's state does not allow this; the message says which does."""


class TooMany(RuntimeError):
    """A limit of the service is reached; the message has it in it. limit: its value."""

    def __init__(self, message: str, limit: int) -> None:
        super().__init__(message)
        self.limit = limit


class TooSlow(RuntimeError):
    """A design or sweep takes longer to be checked than is allowed."""

    def __init__(self, seconds: float) -> None:
        super().__init__(f"it takes more than {seconds:g} s to check; vary less in one sweep")
        self.seconds = seconds


class CheckFailed(RuntimeError):
    """A submission could not be checked, for a fault of this program or since the process that checks was ended; its
    standard error, which is the service's, says more."""


# The status of an answer where one of these is the reason.
STATUS: dict[type[Exception], int] = {
    NoSuchJob: 404, NoSuchSolution: 404, NotNow: 409, TooMany: 429, TooSlow: 422, CheckFailed: 500,
}  # fmt: skip


def status_of(fault: Exception) -> int:
    """The status of an answer that this fault is the reason for; 500 where it is none of these."""
    return next((status for kind, status in STATUS.items() if isinstance(fault, kind)), 500)


def need_extra() -> None:
    """Raise ServiceError where a library of the extra `service` is not installed."""
    for library in _LIBRARIES:
        if find_spec(library) is None:
            raise ServiceError(f"{library} is not installed; the service needs it: pip install 'ringwright[service]'")
