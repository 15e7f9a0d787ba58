"""The page of the search."""

from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from maker.web.access import WorkshopRequest, may_see
from pricing.search.finding import LONGEST, find


@require_GET
@may_see
def search(request: WorkshopRequest) -> HttpResponse:
    """Show what holds the words of the address."""
    text = request.GET.get("q", "").strip()[:LONGEST]
    context = {
        "text": text,
        "kinds": find(request.workshop, text.replace("\x00", "")),
        "query": urlencode({"search": text}),
    }
    return render(request, "pricing/search/search.html", context)
