"""Which pages are heavy: marked at their views, found by their addresses without a search."""

import re
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RoutePattern

View = TypeVar("View", bound=Callable[..., Any])
FILE_ASKED = re.compile(r"(?:^|&)format=(?:csv|xlsx)(?:&|$)")


def heavy(*methods: str) -> Callable[[View], View]:
    """Mark a view as heavy where it is asked by one of the methods (all of them if none is named).

    Heavy is what takes a core for longer than the pages people turn: PDFs, prices of many
    quantities, files. Outermost of a view's decorators.
    """

    def mark(view: View) -> View:
        view.heavy_methods = frozenset(methods)  # type: ignore[attr-defined] # read below
        return view

    return mark


class HeavyAddresses:
    """The addresses of heavy pages as one expression for each set of methods.

    To resolve an address takes a millisecond, and every request would pay it twice.
    """

    def __init__(self) -> None:
        routes: dict[frozenset[str], list[str]] = {}
        for route, view in endpoints(get_resolver()):
            if (methods := getattr(view, "heavy_methods", None)) is not None:
                found = RoutePattern(route, is_endpoint=True).regex.pattern
                routes.setdefault(methods, []).append(re.sub(r"\(\?P<\w+>", "(?:", found))
        self.expressions = [
            (methods, re.compile("|".join(found))) for methods, found in routes.items()
        ]

    def hold(self, method: str, path: str, query: str) -> bool:
        """Say whether a request is heavy; a list asked for as a file always is."""
        if path.startswith("/w/") and FILE_ASKED.search(query):
            return True
        return any(
            (not methods or method in methods) and expression.match(path[1:])
            for methods, expression in self.expressions
        )


def endpoints(resolver: URLResolver, before: str = "") -> Iterator[tuple[str, Any]]:
    """Yield each address below with its view."""
    for one in resolver.url_patterns:
        route = before + str(one.pattern)
        if isinstance(one, URLPattern):
            yield route, one.callback
        else:
            yield from endpoints(one, route)
