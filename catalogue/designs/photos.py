"""Her own photos of a finished item: shown, added, removed, a few of each design."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from catalogue.designs.models import Design, DesignPhoto
from maker.calc.refusal import Refusal
from maker.files.forms import PictureForm
from maker.files.services import keep_picture
from maker.web.access import WorkshopRequest, may_change, row_or_404
from maker.web.fields import OneLineField
from maker.web.refusals import show_refusal

MOST_PHOTOS = 6


class TooManyPhotos(Refusal):
    """There are as many photos of the design as are kept."""


class PhotoForm(PictureForm):
    """A photo, and what it shows for who cannot see it."""

    words = OneLineField(max_length=120, required=False, label="What it shows")


@dataclass(frozen=True, slots=True)
class ShownPhoto:
    """A photo on a page."""

    pk: int
    address: str
    words: str
    width: int
    height: int


def photos_of(design: Design, slug: str) -> list[ShownPhoto]:
    """Return the photos of a design, oldest first; one query."""
    return [
        ShownPhoto(
            row.pk,
            reverse("maker:picture", args=[slug, row.picture_id]),
            row.words or f"{design.name}, finished",
            row.picture.width,
            row.picture.height,
        )
        for row in design.photos.select_related("picture").order_by("pk")
    ]


@transaction.atomic
def add_photo(*, design: Design, data: bytes, words: str) -> None:
    """Keep a photo; the same one twice is kept once. Refused: NotAPicture, TooManyPhotos."""
    Design.objects.select_for_update(no_key=True).get(pk=design.pk)
    if design.photos.count() >= MOST_PHOTOS:
        raise TooManyPhotos(
            f"There are {MOST_PHOTOS} photos already. Remove one first.", where="file"
        )
    picture = keep_picture(workshop=design.workshop, data=data)
    DesignPhoto.objects.get_or_create(design=design, picture=picture, defaults={"words": words})


@require_http_methods(["GET", "HEAD", "POST"])
@may_change
def design_photos(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Add a photo of the finished item, and see those there are."""
    row = row_or_404(Design.objects.of(request.workshop).select_related("workshop"), pk)
    is_sent = request.method == "POST"
    form = PhotoForm(request.POST if is_sent else None, request.FILES if is_sent else None)
    if is_sent and form.is_valid():
        said: dict[str, Any] = form.cleaned_data
        try:
            add_photo(design=row, data=said["file"], words=said["words"])
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, "Saved the photo.")
            return redirect("catalogue:design_photos", request.workshop.slug, pk)
    context = {"design": row, "form": form, "photos": photos_of(row, request.workshop.slug)}
    return render(request, "catalogue/designs/photos.html", context, status=422 if is_sent else 200)


@require_POST
@may_change
def design_photo_remove(request: WorkshopRequest, pk: int, photo: int) -> HttpResponse:
    """Take a photo away; one that is gone already is not a fault."""
    row = row_or_404(Design.objects.of(request.workshop), pk)
    row.photos.filter(pk=photo).delete()
    messages.success(request, "Removed the photo.")
    return redirect("catalogue:design_photos", request.workshop.slug, pk)
