"""Error pages that are views: too many sign-in tries, a form that was open too long."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def too_many_tries(
    request: HttpRequest, response: Any = None, credentials: Any = None, *args: Any, **kwargs: Any
) -> HttpResponse:
    """Say that sign-in is closed for a while after wrong passwords."""
    return render(request, "429.html", status=429)


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say how to send a form again whose safety token ran out."""
    return render(request, "403_csrf.html", status=403)
