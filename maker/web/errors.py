"""An error page that is a view: a form that was open too long."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say how to send a form again whose safety token ran out."""
    return render(request, "403_csrf.html", status=403)
