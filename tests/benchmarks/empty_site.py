"""The site with one more address: a view that does nothing, the baseline of every page."""

from django.http import HttpRequest, HttpResponse
from django.urls import path

from maker.urls import urlpatterns as site


def empty_view(request: HttpRequest) -> HttpResponse:
    """Answer with nothing, through every middleware."""
    return HttpResponse("")


urlpatterns = [path("empty/", empty_view), *site]
