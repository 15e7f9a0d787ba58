"""Every address of the site, as the URL resolver knows it, filled with values that fit."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

FILLING = {
    "int": "1",
    "slug": "x",
    "str": "x",
    "path": "x",
    "uuid": "0" * 8 + "-0000-4000-8000-" + "0" * 12,
}
WORKSHOP = "w/<slug:workshop>/"
NUMBER = re.compile(r"<int:\w+>")
PARAMETER = re.compile(r"<(?:(\w+):)?(\w+)>")


@dataclass(frozen=True, slots=True)
class Address:
    """One address: its pattern, its name and the view behind it."""

    route: str
    name: str
    view: Any

    @property
    def is_of_a_workshop(self) -> bool:
        """Whether it lies inside one workshop."""
        return self.route.startswith(WORKSHOP)

    @property
    def access(self) -> str:
        """Which wrapper of `maker.web.access` the view has, empty for none."""
        return str(getattr(self.view, "access", ""))

    def path(self, workshop: str = "marlow") -> str:
        """Return a path that the pattern matches."""
        filled = self.route.replace("<slug:workshop>", workshop)
        return "/" + PARAMETER.sub(lambda found: FILLING[found[1] or "str"], filled)


def all_addresses() -> list[Address]:
    """Return every address of the site."""
    return list(_walk(get_resolver().url_patterns, "", ""))


def _walk(patterns: Any, before: str, namespace: str) -> Iterator[Address]:
    for pattern in patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            inner = f"{namespace}{pattern.namespace}:" if pattern.namespace else namespace
            yield from _walk(pattern.url_patterns, route, inner)
        elif isinstance(pattern, URLPattern):
            yield Address(route, f"{namespace}{pattern.name}", pattern.callback)


def numbers_by_beginning(paths: dict[str, str], addresses: list[Address]) -> dict[str, str]:
    """Return real numbers by the beginning of the address they stand in."""
    found: dict[str, str] = {}
    for address in addresses:
        if address.name in paths:
            pattern = re.escape(address.route).replace(re.escape("<slug:workshop>"), "[^/]+")
            pattern = re.sub(r"<int:\w+>", r"(\\d+)", pattern)
            pattern = re.sub(r"<\w+:\w+>", r"[^/]+", pattern)
            match = re.fullmatch(pattern, paths[address.name].removeprefix("/"))
            assert match, address.route
            for place, number in zip(NUMBER.finditer(address.route), match.groups(), strict=True):
                found.setdefault(plain(address.route[: place.start()]), number)
    return found


def plain(route: str) -> str:
    """Return a route as it is whatever its numbers are called."""
    return NUMBER.sub("<int>", route)


def filled(address: Address, numbers: dict[str, str], workshop: str) -> str:
    """Return the address below a workshop with real numbers where any are known."""
    route = NUMBER.sub(
        lambda place: numbers.get(plain(address.route[: place.start()]), "1"), address.route
    )
    return Address(route, address.name, address.view).path(workshop)
