"""Pages about where the pieces of an item sit: all of them, and one with its picture beside it."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.recipes.item_picture import item_picture
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.place_form import forms_for
from catalogue.recipes.placing import PlacesChanged, Placing, save_places, undo_places
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.messages import undo_message
from maker.web.parts import asks_for_part
from maker.web.refusals import refusal_told


def _placing(request: WorkshopRequest, design: int, number: int) -> Placing:
    versions = DesignVersion.objects.of(request.workshop).with_what_is_seen()
    version = versions.filter(design_id=design, number=number).first()
    if version is None:
        raise Http404("No design of this workshop has this version.")
    return Placing(version)


@require_GET
@may_see
def places(request: WorkshopRequest, design: int, number: int) -> HttpResponse:
    """List the pieces and where each sits, beside the picture."""
    placing = _placing(request, design, number)
    page = {
        "version": placing.version,
        "design": placing.version.design,
        "placed": placing.placed,
        "picture": item_picture(placing.item, name="item"),
    }
    return render(request, "catalogue/recipes/places.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def place(request: WorkshopRequest, design: int, number: int, at: int) -> HttpResponse:
    """Say where a piece sits. Sent by GET it is only shown; the picture answers while she types."""
    placing = _placing(request, design, number)
    rows = {row.at: row for row in placing.placed if not row.is_main}
    if at not in rows:
        raise Http404("No piece of this version that sits on another has this number.")
    is_shown = request.method != "POST" and "copy0-place" in request.GET
    sent = request.POST if request.method == "POST" else request.GET if is_shown else None
    forms = forms_for(placing, at, request.workshop, sent)
    is_readable = all(form.is_valid() for form in forms) if sent is not None else False
    places = placing.with_places(at, [form.own_place() for form in forms]) if is_readable else None
    edit_number, status, refusal = placing.version.places_edit_number, 200, None
    if request.method == "POST":
        status = 422
        if places is not None:
            try:
                saved = save_places(
                    version=placing.version, places=places, edit_number=_number(request)
                )
            except PlacesChanged as changed:
                status, refusal = 409, changed
            else:
                undo = _address(request, "places_undo", placing, saved.places_edit_number)
                undo_message(request, f"Place of {rows[at].name} saved.", undo)
                return redirect(_address(request, "places", placing))
    shown = placing.item if places is None else placing.drawn(places)
    page = {
        "version": placing.version,
        "design": placing.version.design,
        "piece": rows[at],
        "forms": forms,
        "edit_number": edit_number,
        "refusal": refusal,
        "has_errors": sent is not None and not is_readable,
        "picture": item_picture(shown, name="item"),
        "is_part": asks_for_part(request),
    }
    return render(request, _template(page), page, status=status)


def _template(page: dict[str, Any]) -> str:
    name = "_place_picture" if page["is_part"] else "place"
    return f"catalogue/recipes/{name}.html"


@require_POST
@may_change
def places_undo(
    request: WorkshopRequest, design: int, number: int, edit_number: int
) -> HttpResponse:
    """Take back the last place that was saved."""
    placing = _placing(request, design, number)
    with refusal_told(request):
        saved = undo_places(version=placing.version, edit_number=edit_number)
        again = _address(request, "places_undo", placing, saved.places_edit_number)
        undo_message(request, "The last place is undone.", again)
    return redirect(_address(request, "places", placing))


def _number(request: WorkshopRequest) -> int:
    text = request.POST.get("edit_number", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1


def _address(
    request: WorkshopRequest, name: str, placing: Placing, edit_number: int | None = None
) -> str:
    more = {} if edit_number is None else {"edit_number": edit_number}
    version = placing.version
    numbers = {"design": version.design_id, "number": version.number, **more}
    return reverse(f"catalogue:{name}", kwargs={"workshop": request.workshop.slug, **numbers})
