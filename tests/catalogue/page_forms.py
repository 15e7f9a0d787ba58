"""Reads the form of a page as a browser without JavaScript would send it."""

from html.parser import HTMLParser
from typing import Any


class _Fields(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self.buttons: list[dict[str, str | None]] = []
        self._select = self._textarea = ""
        self._templates = 0
        self._first: dict[str, str] = {}

    def handle_starttag(self, tag: str, pairs: Any) -> None:
        attrs = dict(pairs)
        if tag == "template":
            self._templates += 1
        if self._templates:
            return
        name = attrs.get("name") or ""
        if tag == "input" and name:
            kind = attrs.get("type", "text")
            if kind not in ("checkbox", "radio") or "checked" in attrs:
                self.fields[name] = attrs.get("value") or ("on" if kind == "checkbox" else "")
        elif tag == "select" and name:
            self._select = name
        elif tag == "option" and self._select:
            value = attrs.get("value") or ""
            if "selected" in attrs or self._select not in self.fields:
                self.fields[self._select] = value
        elif tag == "textarea" and name:
            self._textarea = name
            self.fields[name] = ""
        elif tag == "button":
            self.buttons.append(attrs)

    def handle_endtag(self, tag: str) -> None:
        if tag == "template":
            self._templates -= 1
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._textarea = ""

    def handle_data(self, data: str) -> None:
        if self._textarea:
            self.fields[self._textarea] += data


def fields_of(response: Any) -> dict[str, str]:
    """Return what would be sent if the page's fields were sent as they are."""
    reader = _Fields()
    reader.feed(response.content.decode())
    reader.fields.pop("csrfmiddlewaretoken", None)
    return reader.fields
