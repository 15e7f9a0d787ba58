"""Pages that make price tags."""

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.html import format_html_join
from django.views.decorators.http import require_http_methods

from catalogue.recipes.inputs import item_cautions
from maker.calc.money import format_money
from maker.calc.refusal import Refusal
from maker.heavy_pages.marks import heavy
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work, key_of
from maker.web.access import WorkshopRequest, may_change, may_compute, row_or_404
from maker.web.lists import count_text, whole_number
from maker.web.row_pages import Entry, archive_views, entry_page
from maker.workshop.models import Workshop
from pricing.calc.papers.tag_layouts import TagLayout
from pricing.calc.price.cash import cash_total
from pricing.channels.models import Channel
from pricing.fairs.drawing import planned_tags
from pricing.price_tags.forms import (
    ChannelChoiceForm,
    LabelSheetForm,
    TagRowFormSet,
    TagSheetForm,
)
from pricing.price_tags.inputs import TagItem, pictures_of, tag_items
from pricing.price_tags.models import LabelSheet
from pricing.price_tags.services import (
    Tag,
    check_tags,
    print_tags,
    remember_tags,
    save_label_sheet,
)
from pricing.price_tags.tasks import given_for, make_tags
from pricing.prices.models import PriceListEntry

# a page of the price list; any other item is found by its name
MOST_ROWS_SHOWN = 25
# what is made within a second or two on a small machine
MOST_TAGS_AT_ONCE = 120


@heavy("POST")
@require_http_methods(["GET", "POST"])
@may_compute
def tag_sheet(request: WorkshopRequest) -> HttpResponse:
    """Choose designs and counts; a post answers with the PDF and keeps which prices it says."""
    workshop = request.workshop
    channels = list(Channel.objects.of(workshop).in_use().in_order())
    channel_form = ChannelChoiceForm(request.POST or request.GET or None, channels=channels)
    channel = channel_form.chosen()
    items = tag_items(workshop, channel)
    shared: dict[str, Any] = {"workshop": workshop, "items": items}
    sheets = list(LabelSheet.objects.of(workshop).filter(retired_on=None).by_name())
    form = TagSheetForm(
        request.POST or None,
        workshop=workshop,
        sheets=sheets,
        initial={"form_key": uuid.uuid4()},
    )
    initial: list[dict[str, Any]] = [{"design": item.name} for item in items.priced()]
    initial = initial[:MOST_ROWS_SHOWN]
    asked = request.GET.getlist("design")
    if asked:
        wanted = [item for item in items.items if str(item.design.pk) in asked]
        initial = [{"design": item.name, "count": 12} for item in wanted]
    if fair := whole_number(request.GET.get("fair"), 0):
        planned = planned_tags(workshop, fair)
        initial = [
            {"design": name, "count": count, "price": price} for name, count, price in planned
        ] or initial
    formset = TagRowFormSet(
        request.POST or None, initial=initial, prefix="tags", form_kwargs=shared
    )
    if request.method == "POST" and form.is_valid() & formset.is_valid():
        try:
            return _pdf(request, form, formset)
        except Refusal as refusal:
            form.add_error("sheet" if refusal.where == "sheet" else None, refusal.message)
    return render(
        request,
        "pricing/price_tags/tag_sheet.html",
        {
            "form": form,
            "formset": formset,
            "channel_form": channel_form,
            "channel": channel,
            "items": items.items,
            # thousands of them take a template longer than all the rest of the page
            "names": format_html_join(
                "",
                '<option value="{}">{}</option>',
                ((item.name, item.design.code) for item in items.items),
            ),
            "sheets": sheets,
            "coins": _paid_otherwise(workshop, items.priced()),
        },
        status=422 if request.method == "POST" else 200,
    )


def _paid_otherwise(workshop: Workshop, items: Sequence[TagItem]) -> list[str]:
    """Say which prices no coins pay exactly, with what is paid for one of them."""
    said = []
    for item in items:
        if item.entry is None:
            continue
        price = item.entry.price
        payable = cash_total(price, workshop.cash_step).payable
        if payable != price:
            was, now = (
                format_money(amount, workshop.currency, workshop.locale)
                for amount in (price, payable)
            )
            said.append(f"{item.name}: {was} is {now} in coins")
    return said


def _pdf(request: WorkshopRequest, form: TagSheetForm, formset: Any) -> HttpResponse:
    workshop = request.workshop
    given = form.cleaned_data
    contact = " · ".join(
        part
        for part in (
            workshop.maker_name or workshop.name,
            workshop.website or workshop.email or workshop.phone,
        )
        if part
    )
    tags: list[Tag] = []
    printed: list[tuple[PriceListEntry | None, Decimal, int]] = []
    rows = [
        row
        for row in formset.cleaned_data
        if row.get("row") and row.get("count") and not row.get("DELETE")
    ]
    is_drawn = given["layout"] == TagLayout.CARD and not given["qr"]
    pictures = pictures_of([row["row"] for row in rows]) if is_drawn else {}
    for row in rows:
        item: TagItem = row["row"]
        design = item.design
        printed.append((item.entry, row["price"], row["count"]))
        code = {"website": workshop.website, "code": design.code}.get(given["qr"], "")
        tags.append(
            Tag(
                name=item.name,
                price=format_money(row["price"], workshop.currency, workshop.locale),
                count=row["count"],
                code=design.code,
                care=design.care_line or workshop.care_line,
                contact=contact,
                caution=_caution(item),
                qr=code,
                picture=pictures.get(item.name, ""),
            )
        )
    options = {
        "start_at": given["start_at"],
        "with_test_page": given["test_page"],
        "with_cut_lines": given["cut_lines"],
        "title": f"Price tags of {workshop.name}",
        "locale": workshop.locale,
        "layout": given["layout"],
    }
    name = f"price-tags-{timezone.localdate().isoformat()}.pdf"
    if not request.membership.may_change:
        printed = []
    if sum(tag.count for tag in tags) > MOST_TAGS_AT_ONCE:
        sheets = check_tags(
            tags=tags, geometry=form.geometry(), start_at=given["start_at"], layout=given["layout"]
        )
        asked = given_for(
            tags=tags,
            geometry=form.geometry(),
            options=options,
            name=name,
            sheets=sheets + given["test_page"],
            printed=printed,
        )
        return _in_background(request, asked, given["form_key"])
    pdf = print_tags(tags=tags, geometry=form.geometry(), **options)
    if printed:
        remember_tags(printed=printed, by=request.user)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


def _in_background(
    request: WorkshopRequest, asked: dict[str, Any], form_key: uuid.UUID | None
) -> HttpResponse:
    """Let a worker make many tags; the same press twice makes them once."""
    count = sum(tag["count"] for tag in asked["tags"])
    work = ask_work(
        workshop=request.workshop,
        kind=Work.Kind.PDF,
        title=f"Price tags: {count:,} on {count_text(asked['sheets'], 'sheet')}",
        doing=make_tags,
        given=asked,
        came_from=request.path,
        by=request.user,
        form_key=key_of(asked, within=form_key) if form_key else None,
        of=asked["sheets"],
    )
    return redirect("maker:work", request.workshop.slug, work.pk)


def _caution(item: TagItem) -> str:
    """Return what a tag warns of: of the options its price is for, else of the design."""
    if item.entry is None:
        return item.design.caution
    version = item.entry.version
    version.design = item.design
    return " ".join(item_cautions(version, item.entry.choices))


@require_http_methods(["GET", "POST"])
@may_change
def tag_label_sheet_new(request: WorkshopRequest) -> HttpResponse:
    """Add an own label sheet."""
    return _label_sheet_page(request, LabelSheet(workshop=request.workshop))


@require_http_methods(["GET", "POST"])
@may_change
def tag_label_sheet(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Change an own label sheet."""
    return _label_sheet_page(request, row_or_404(LabelSheet.objects.of(request.workshop), pk))


def _label_sheet_page(request: WorkshopRequest, row: LabelSheet) -> HttpResponse:
    def entry_of(row: LabelSheet, data: Any) -> Entry:
        return Entry(LabelSheetForm(data, instance=row, workshop=request.workshop))

    def save(entry: Entry) -> HttpResponse:
        saved = save_label_sheet(sheet=entry.form.save(commit=False))
        messages.success(request, f"Saved the label sheet “{saved}”.")
        return redirect("pricing:tag_sheet", request.workshop.slug)

    return entry_page(
        request, "pricing/price_tags/label_sheet.html", row, entry_of, save, sheet=row
    )


tag_label_sheet_retire, tag_label_sheet_restore = archive_views(
    LabelSheet, restore="pricing:tag_label_sheet_restore", list_page="pricing:tag_sheet"
)
