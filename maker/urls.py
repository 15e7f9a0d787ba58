"""Addresses of the whole site; every page of a workshop starts with /w/<workshop>/."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import include, path

from maker.web.moved import moved_addresses


def front_door(request: HttpRequest) -> HttpResponse:
    """Send a visitor to her workshops (and by way of it to sign-in)."""
    return redirect("maker:workshop_list")


handler500 = "maker.troubles.views.broken"
urlpatterns = [
    path("", front_door),
    path("", include("maker.site_urls")),
    path("w/<slug:workshop>/", include("catalogue.urls")),
    path("", include("pricing.urls")),
    path("", include((moved_addresses(), "moved"))),
]
