"""Reads the forms of a page as a browser does: where they go, with which fields and values."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin


@dataclass
class PageForm:
    """One form with what would be sent if nothing were typed."""

    method: str
    action: str
    data: dict[str, list[str]] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)
    buttons: list[tuple[str, str]] = field(default_factory=list)
    # other places the same fields are sent to: by a button of its own, or while one types
    ways: list[tuple[str, str]] = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self, at: str) -> None:
        super().__init__()
        self.at, self.forms = at, list[PageForm]()
        self.by_id: dict[str, PageForm] = {}
        self.form: PageForm | None = None
        self.waiting: list[tuple[str, str, str]] = []
        self.select: tuple[PageForm, str] | None = None
        self.options: list[str] = []
        self.chosen: list[str] = []
        self.text: tuple[PageForm, str] | None = None
        self.words: list[str] = []

    def handle_starttag(self, tag: str, pairs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in pairs}
        if tag == "form":
            here = self.at.partition("?")[0]
            # of "#steps" only the page itself is left
            named = said.get("action", "").partition("#")[0]
            action = urljoin(self.at, named) if named else here
            self.form = PageForm(said.get("method", "get").lower(), action)
            self.forms.append(self.form)
            if "id" in said:
                self.by_id[said["id"]] = self.form
        form = self.by_id.get(said["form"]) if "form" in said else self.form
        if form is not None:
            self._ways(said, form)
        if tag in ("input", "button", "select", "textarea"):
            if form is not None and said.get("name"):
                self._field(tag, said, form)
        elif tag == "option" and self.select:
            value = said.get("value", "")
            self.options.append(value)
            if "selected" in said:
                self.chosen.append(value)

    def _ways(self, said: dict[str, str], form: PageForm) -> None:
        for name, method in (("formaction", form.method), ("hx-post", "post"), ("hx-get", "get")):
            if said.get(name, "").startswith(("/", "?")):
                action = urljoin(self.at, said[name].partition("#")[0])
                form.ways.append((method, action))

    def _field(self, tag: str, said: dict[str, str], form: PageForm) -> None:
        name, kind = said["name"], said.get("type", "text")
        if tag == "button":
            form.buttons.append((name, said.get("value", "")))
        elif tag == "select":
            self.select, self.options, self.chosen = (form, name), [], []
        elif tag == "textarea":
            self.text, self.words = (form, name), []
        elif kind == "file":
            form.files.append(name)
        elif kind in ("checkbox", "radio"):
            values = form.data.setdefault(name, [])
            if "checked" in said:
                values.append(said.get("value", "on"))
        elif kind not in ("submit", "image", "reset"):
            form.data.setdefault(name, []).append(said.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self.text:
            self.words.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "select" and self.select:
            form, name = self.select
            form.data.setdefault(name, []).extend(self.chosen or self.options[:1])
            self.select = None
        elif tag == "textarea" and self.text:
            form, name = self.text
            form.data.setdefault(name, []).append("".join(self.words).removeprefix("\n"))
            self.text = None


def forms_of(page: str, at: str) -> list[PageForm]:
    """Return the forms of a page that was asked for at this address."""
    reader = _Reader(at)
    reader.feed(page)
    return reader.forms
