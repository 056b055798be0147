"""The form of a page as a browser sends it, without a browser: HTML read by the standard library's parser."""

from __future__ import annotations

from html.parser import HTMLParser

import httpx


class Forms(HTMLParser):
    """Name and value of every field of the form with that id, as they would be sent; and every text of the page."""

    def __init__(self, page: str, form: str = "design") -> None:
        super().__init__()
        self._form, self._in, self._select, self._text = form, False, "", ""
        self.fields: list[tuple[str, str]] = []
        self.invalid: list[str] = []
        self.beside: dict[str, str] = {}
        self._error = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._in = told.get("id") == self._form
        if not self._in:
            return
        name = told.get("name", "")
        if "aria-invalid" in told:
            self.invalid.append(name)
        self._error = told.get("data-error", "") if tag == "p" else self._error
        if tag == "input" and (told.get("type") != "checkbox" or "checked" in told):
            self.fields.append((name, told.get("value", "")))
        elif tag == "textarea":
            self._text = name
            self.fields.append((name, ""))
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select:
            first = all(known != self._select for known, _ in self.fields)
            if first or "selected" in told:
                self.fields = [one for one in self.fields if one[0] != self._select]
                self.fields.append((self._select, told.get("value", "")))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._in = False
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            name, text = self.fields[-1] if self._text else ("", "")
            if self._text:
                self.fields[-1] = (name, text.removeprefix("\n"))
            self._text = ""
        elif tag == "p":
            self._error = ""

    def handle_data(self, data: str) -> None:
        if self._text:
            name, text = self.fields[-1]
            self.fields[-1] = (name, text + data)
        elif self._error and data.strip():
            self.beside[self._error] = data.strip()

    def changed(self, **fields: str) -> list[tuple[str, str]]:
        """The same with other values; two underscores stand for a dot."""
        told = {name.replace("__", "."): value for name, value in fields.items()}
        return [one for one in self.fields if one[0] not in told] + list(told.items())


def sent(client: httpx.Client, address: str, fields: list[tuple[str, str]]) -> httpx.Response:
    """What a browser sends, and the answer."""
    body = str(httpx.QueryParams(fields)).encode()
    return client.post(address, content=body, headers={"content-type": "application/x-www-form-urlencoded"})
