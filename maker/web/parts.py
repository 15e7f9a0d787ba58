"""Answers with a whole page, or with the part of it that the page asks for by itself."""

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers
from django_htmx.middleware import HtmxDetails


def asks_for_part(request: HttpRequest) -> bool:
    """Return whether the page that is open asks, not a browser that opens one."""
    return bool(HtmxDetails(request))


def part_or_page(
    request: HttpRequest, part: str, page: str, context: Mapping[str, Any]
) -> HttpResponse:
    """Answer with what was asked for; templates know it as `is_part`.

    Whoever keeps answers is told that one address has two: else going back would show a part alone.
    """
    is_part = asks_for_part(request)
    response = render(request, part if is_part else page, {**context, "is_part": is_part})
    patch_vary_headers(response, ["HX-Request"])
    return response


def beside_the_entry(response: HttpResponse) -> HttpResponse:
    """Return the part that says what is wrong, put where problems stand and not over the answer."""
    response["HX-Retarget"], response["HX-Reswap"] = "#live-problems", "outerHTML"
    return response
