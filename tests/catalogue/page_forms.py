"""Reads the forms of a page as a browser without JavaScript would send them."""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

_NOT_TYPED = {"hidden", "submit", "button", "image", "reset"}
_LINE_END = re.compile(r"\r\n|\r|\n")
# what an entry of this kind can hold; a browser empties it of anything else
_KEPT_BY = {
    "date": re.compile(r"\d{4,}-\d\d-\d\d"),
    "time": re.compile(r"\d\d:\d\d(:\d\d(\.\d{1,3})?)?"),
    "number": re.compile(r"-?(\d+(\.\d+)?|\.\d+)([eE][+-]?\d+)?"),
}


@dataclass(slots=True)
class PageForm:
    """A form of a page: where it goes, and what it sends when nothing is touched.

    `entries` are the names of what can be seen and changed, `buttons` name and value of what
    sends it.
    """

    action: str = ""
    method: str = "get"
    fields: list[tuple[str, str]] = field(default_factory=list)
    entries: list[str] = field(default_factory=list)
    buttons: list[dict[str, str]] = field(default_factory=list)

    def sent(self) -> dict[str, list[str]]:
        """Return what Enter would send, by name: the first button goes along."""
        found: dict[str, list[str]] = {}
        first = [(b["name"], b.get("value", "")) for b in self.buttons[:1] if b.get("name")]
        for name, value in (*self.fields, *first):
            found.setdefault(name, []).append(value)
        found.pop("csrfmiddlewaretoken", None)
        return found


class _Page(HTMLParser):
    """Collects successful controls as the HTML standard says (4.10.21.4, entry list)."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[PageForm] = []
        self.by_id: dict[str, PageForm] = {}
        # entries that name their form may stand before it
        self.controls: list[tuple[dict[str, str], PageForm | None, list[str]]] = []
        self._form: PageForm | None = None
        self._templates = 0
        self._fieldsets: list[bool] = []
        self._select: dict[str, str] | None = None
        self._options: list[tuple[dict[str, str], str]] = []
        self._textarea: dict[str, str] | None = None
        self._text = ""

    def handle_starttag(self, tag: str, pairs: Any) -> None:
        attrs = {name: value or "" for name, value in pairs}
        if tag == "template":
            self._templates += 1
        if self._templates:
            return
        if tag == "form":
            self._form = PageForm(attrs.get("action", ""), attrs.get("method", "get").lower())
            self.forms.append(self._form)
            if attrs.get("id"):
                self.by_id[attrs["id"]] = self._form
        elif tag == "fieldset":
            self._fieldsets.append("disabled" in attrs)
        elif tag == "input":
            self._add(attrs, [value] if (value := _value_of(attrs)) is not None else [])
        elif tag == "select":
            self._select, self._options = attrs, []
        elif tag == "option" and self._select is not None:
            self._options.append((attrs, ""))
        elif tag == "textarea":
            self._textarea, self._text = attrs, ""
        elif tag == "button" and attrs.get("type", "submit") == "submit":
            self._add({**attrs, "type": "submit"}, [])

    def handle_endtag(self, tag: str) -> None:
        if tag == "template":
            self._templates -= 1
        if self._templates:
            return
        if tag == "form":
            self._form = None
        elif tag == "fieldset":
            self._fieldsets.pop()
        elif tag == "select" and self._select is not None:
            self._add(self._select, _chosen(self._select, self._options))
            self._select = None
        elif tag == "textarea" and self._textarea is not None:
            # the first line end belongs to the tag; every other is sent as two signs
            text = re.sub(r"\A(\r\n|\r|\n)", "", self._text)
            self._add(self._textarea, [_LINE_END.sub("\r\n", text)])
            self._textarea = None

    def handle_data(self, data: str) -> None:
        if self._textarea is not None:
            self._text += data
        elif self._select is not None and self._options:
            attrs, text = self._options[-1]
            self._options[-1] = (attrs, text + data)

    def _add(self, attrs: dict[str, str], values: list[str]) -> None:
        if "disabled" not in attrs and not any(self._fieldsets):
            self.controls.append((attrs, self._form, values))

    def finished(self) -> list[PageForm]:
        """Return the forms with what belongs to each."""
        outside = PageForm()
        for attrs, around, values in self.controls:
            form = self.by_id.get(attrs["form"]) if "form" in attrs else around
            form = form or outside
            kind = attrs.get("type", "")
            if kind in ("submit", "image"):
                form.buttons.append(attrs)
            elif name := attrs.get("name"):
                form.fields += [(name, value) for value in values]
                if kind not in _NOT_TYPED:
                    form.entries.append(name)
        return [*self.forms, outside]


def _value_of(attrs: dict[str, str]) -> str | None:
    """Return what an input sends, None for nothing."""
    kind = attrs.get("type", "text").lower()
    if kind in ("submit", "button", "image", "reset"):
        return None
    if kind in ("checkbox", "radio"):
        return attrs.get("value", "on") if "checked" in attrs else None
    if kind == "file":
        return ""
    value = attrs.get("value", "")
    if kind == "hidden":
        return value
    if kind in _KEPT_BY and not _KEPT_BY[kind].fullmatch(value):
        return ""
    return _LINE_END.sub("", value)


def _chosen(attrs: dict[str, str], options: list[tuple[dict[str, str], str]]) -> list[str]:
    named = [
        (option, option.get("value", " ".join(text.split())))
        for option, text in options
        if "disabled" not in option
    ]
    chosen = [value for option, value in named if "selected" in option]
    if "multiple" in attrs:
        return chosen
    return chosen[-1:] or [value for _, value in named[:1]]


def forms_of(response: Any) -> list[PageForm]:
    """Return every form of a page."""
    page = _Page()
    page.feed(response.content.decode())
    page.close()
    return page.finished()[:-1]


def fields_of(response: Any) -> dict[str, str]:
    """Return what would be sent if all fields of the page were one form."""
    page = _Page()
    page.feed(response.content.decode())
    page.close()
    found = {name: value for form in page.finished() for name, value in form.fields}
    found.pop("csrfmiddlewaretoken", None)
    return found
