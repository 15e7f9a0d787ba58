"""Pages that moved: an address someone kept leads to where the page is now."""

from django.http import HttpResponsePermanentRedirect
from django.urls import URLPattern, path

from maker.web.access import WorkshopRequest, may_see

# of a workshop, of one design, of one quote: what the address said, and what it says now
MOVED = {
    "": {
        "bench": "timer",
        "designs/use-form": "designs/use-shape",
        "cutting": "cutting-plans",
        "forms": "shapes",
        "spend": "spending",
        "true-prices": "review-prices",
    },
    "designs/<int:pk>/": {
        "bridge": "price-history",
        "defence": "for-customers",
        "ladder": "quantities",
        "sure": "range",
        "timings": "times",
    },
    "quotes/<int:pk>/": {"bridge": "price-history"},
}


@may_see
def moved(
    request: WorkshopRequest, new: str, pk: int = 0, rest: str = ""
) -> HttpResponsePermanentRedirect:
    """Keep her question; a form sent from a page opened before the move arrives as it is."""
    address = f"/w/{request.workshop.slug}/{new.replace('<int:pk>', str(pk))}/{rest}"
    query = request.META.get("QUERY_STRING", "")
    return HttpResponsePermanentRedirect(
        address + (f"?{query}" if query else ""), preserve_request=True
    )


def moved_addresses() -> list[URLPattern]:
    """Give the addresses of before; put last, they never hide a page of today."""
    return [
        path(f"w/<slug:workshop>/{start}{old}/{rest}", moved, {"new": start + new}, name=old)
        for start, names in MOVED.items()
        for old, new in names.items()
        for rest in ("", "<path:rest>")
    ]
