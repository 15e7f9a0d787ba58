"""A hint under a field is at most twelve words; longer help opens on a tap."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator

from django import forms

import catalogue
import maker
import pricing

MOST_WORDS = 12
# its rules are Django's own, one line each
OF_DJANGO = "django.contrib"


def form_classes() -> set[type[forms.BaseForm]]:
    """Return every form of the program: of each file that can have some."""
    found = set()
    for app in (maker, catalogue, pricing):
        for module in pkgutil.walk_packages(app.__path__, f"{app.__name__}."):
            if "form" in module.name.rpartition(".")[2]:
                for one in vars(importlib.import_module(module.name)).values():
                    if inspect.isclass(one) and issubclass(one, forms.BaseForm):
                        found.add(one)
    return {one for one in found if not one.__module__.startswith(OF_DJANGO)}


def hints() -> Iterator[tuple[str, str]]:
    for form in form_classes():
        for name, field in getattr(form, "base_fields", {}).items():
            if not name.startswith("new_password"):
                yield f"{form.__name__}.{name}", re.sub(r"<[^>]+>", " ", str(field.help_text))


def test_no_hint_is_longer_than_twelve_words() -> None:
    long = {where: said for where, said in hints() if len(said.split()) > MOST_WORDS}
    assert not long


def test_the_walk_finds_the_forms() -> None:
    names = {one.__name__ for one in form_classes()}
    assert names >= {"MaterialForm", "PricesForm", "TagSheetForm"}
    assert sum(bool(said) for _, said in hints()) > 100
