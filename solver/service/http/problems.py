"""Whatever is refused or goes wrong, as a problem document (RFC 9457)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from pydantic import BaseModel, ConfigDict, Field

from solver.design.errors import DesignError

MEDIA = "application/problem+json"


class Fault(BaseModel):
    """One fault of a design: the field's dotted path ("" for the whole), the value as shown, what is allowed."""

    field: str
    value: str
    message: str


class ProblemDocument(BaseModel):
    """A problem document (RFC 9457)."""

    model_config = ConfigDict(title="Problem")

    type: str = Field(description="What kind of problem: about:blank, or a path that stands for it.")
    title: str
    status: int
    detail: str
    instance: str = Field(description="The path that was asked for.")
    errors: list[Fault] | None = Field(None, description="Every fault of a design, or of the query.")
    limit: float | None = Field(None, description="The value of the limit that was met.")


class Problem(Exception):
    """Raised where a request cannot be answered otherwise; see `ProblemDocument`. more: "errors" or "limit"."""

    def __init__(
        self, status: int, detail: str, headers: Mapping[str, str] | None = None, kind: str = "about:blank", **more: Any
    ) -> None:
        super().__init__(detail)
        self.status, self.detail, self.kind, self.more = status, detail, kind, more
        self.headers = {name.lower(): value for name, value in (headers or {}).items()}

    def body(self, path: str) -> bytes:
        """The document, said of that path."""
        phrase = HTTPStatus(self.status).phrase if self.status in set(HTTPStatus) else "Refused"
        document = {
            "type": self.kind, "title": phrase, "status": self.status, "detail": self.detail,
            "instance": quote(path, safe="/:@!$&'()*+,;=~-._"), **self.more,
        }  # fmt: skip
        return json.dumps(document, ensure_ascii=True).encode()


def of_design(fault: DesignError) -> Problem:
    """A design that cannot be used, every fault with the field path that the command line shows."""
    errors = []
    for one in fault.complaints:
        where = one.file.strip(": ")
        errors.append({"field": one.field, "value": one.value, "message": f"{where}: {one.allowed}" if where
                       else one.allowed})  # fmt: skip
    lines = [str(one).removeprefix(": ") for one in fault.complaints]
    return Problem(422, "\n".join(lines), kind="/problems/design", errors=errors)
