"""Puts price tags on label sheets and makes the PDF."""

import base64
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO

from django.db import transaction
from django.template.loader import render_to_string

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.workshop.services import claim_name
from pricing.calc.papers.labels import LabelGeometry, TagType, check_geometry, places, tag_type
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.prices.models import PriceListEntry

MOST_TAGS = 2000


class TooManyTags(Refusal):
    """More tags than one PDF should hold."""


class NoTags(Refusal):
    """Nothing was chosen."""


class CautionDoesNotFit(Refusal):
    """A caution would be cut off; a tag without it must not be made."""


@dataclass(frozen=True, slots=True)
class Tag:
    """What one tag says; `count` of them are printed. Empty lines are left out."""

    name: str
    price: str
    count: int
    code: str = ""
    care: str = ""
    contact: str = ""
    caution: str = ""
    qr: str = ""


@transaction.atomic
def save_label_sheet(*, sheet: LabelSheet) -> LabelSheet:
    """Store an own label sheet. Refused when another one has the name."""
    claim_name(sheet, f"You already have a label sheet “{sheet.name}”.")
    sheet.save()
    return sheet


def print_tags(
    *,
    tags: Sequence[Tag],
    geometry: LabelGeometry,
    start_at: int = 1,
    with_test_page: bool = True,
    with_cut_lines: bool = False,
    title: str = "Price tags",
    locale: str = "en_GB",
    on_page: Callable[[int], None] | None = None,
) -> bytes:
    """Return a PDF with every tag in its label, true to the millimetre.

    A test page in front carries the outline of all labels and 50 mm measuring bars. Refused:
    no tags, more than MOST_TAGS, labels that do not fit their page, a start beyond the sheet,
    a caution that has no room. `with_cut_lines` outlines each tag, for card that is cut. `on_page`
    hears of each page, as in `render_pdf`.
    """
    faces, type_sizes = _faces(tags, geometry)
    # drawn once for each design: a code costs more than all the rest of a tag
    one_by_one: list[dict[str, object]] = []
    for tag, lines in faces:
        face = {"tag": tag, "lines": lines, "qr": _qr_image(tag.qr, type_sizes)}
        one_by_one += [face] * tag.count
    total = len(one_by_one)
    pages: list[list[dict[str, object]]] = []
    for place, face in zip(places(geometry, total, start_at), one_by_one, strict=True):
        while len(pages) <= place.page:
            pages.append([])
        pages[place.page].append({**face, "column": place.column, "row": place.row})
    grid = [(c, r) for r in range(geometry.rows) for c in range(geometry.columns)]
    html = render_to_string(
        "print/price_tags.html",
        {
            "title": title,
            "language": locale.split("_")[0],
            "pages": pages,
            "outline": grid if with_test_page else [],
            "geometry": geometry,
            "total": total,
            "cut_lines": with_cut_lines,
        },
    )
    return render_pdf(html=html, css=_css(geometry, type_sizes), on_page=on_page)


def check_tags(*, tags: Sequence[Tag], geometry: LabelGeometry, start_at: int = 1) -> int:
    """Refuse what `print_tags` refuses, without drawing; return how many sheets it takes."""
    faces, _ = _faces(tags, geometry)
    *_, last = places(geometry, sum(tag.count for tag, _ in faces), start_at)
    return last.page + 1


def _faces(
    tags: Sequence[Tag], geometry: LabelGeometry
) -> tuple[list[tuple[Tag, list[str]]], TagType]:
    """Return the tags that are wanted with their small lines, and the sizes of the type."""
    wanted = [tag for tag in tags if tag.count > 0]
    total = sum(tag.count for tag in wanted)
    if not total:
        raise NoTags("Enter how many tags you want of at least one design.", where="count")
    if total > MOST_TAGS:
        raise TooManyTags(
            f"{total} tags are more than the {MOST_TAGS} one file holds. Print them in parts.",
            where="count",
        )
    check_geometry(geometry)
    sizes = tag_type(geometry, with_qr=any(tag.qr for tag in wanted))
    return [(tag, _small_lines(tag, geometry, sizes)) for tag in wanted], sizes


def _small_lines(tag: Tag, geometry: LabelGeometry, sizes: TagType) -> list[str]:
    """Return the small lines that have room; the caution comes first and whole."""
    room = sizes.small_lines
    if tag.caution:
        width = geometry.label_width - 2 * sizes.padding - (sizes.qr if tag.qr else 0)
        # letters are about half as wide as high; 5 % for lines that break early
        needed = -(-len(tag.caution) * sizes.small * Decimal("0.53") // width)
        if needed > room:
            raise CautionDoesNotFit(
                f"The caution of “{tag.name}” does not fit on these labels. Choose a larger label"
                + (" or leave the code out." if tag.qr else " or shorten it."),
                where="sheet",
            )
        room -= int(needed)
    return [line for line in (tag.care, tag.contact) if line][:room]


def _qr_image(text: str, sizes: TagType) -> str:
    if not text or not sizes.qr:
        return ""
    import segno

    picture = BytesIO()
    segno.make_qr(text, error="m").save(picture, kind="svg", border=4, xmldecl=False)
    return "data:image/svg+xml;base64," + base64.b64encode(picture.getvalue()).decode()


def _css(geometry: LabelGeometry, sizes: TagType) -> str:
    def mm(value: Decimal) -> str:
        return f"{value}mm"

    text_width = geometry.label_width - 2 * sizes.padding
    beside_qr = text_width - sizes.qr
    rules = [
        f"@page {{ size: {mm(geometry.page_width)} {mm(geometry.page_height)}; margin: 0 }}",
        f"html {{ font-family: {FONT_FAMILY}; color: #1f2747; line-height: 1.22 }}",
        "body, h1, p { margin: 0 }",
        # a whole page, but a hair less so that rounding never makes an empty one
        f".page {{ position: relative; height: {mm(geometry.page_height - Decimal('0.1'))};"
        " break-after: page; overflow: hidden }",
        ".page:last-child { break-after: auto }",
        f".tag {{ position: absolute; overflow: hidden; width: {mm(geometry.label_width)};"
        f" height: {mm(geometry.label_height)} }}",
        f".words {{ position: absolute; left: {mm(sizes.padding)}; top: {mm(sizes.padding)};"
        f" width: {mm(text_width)} }}",
        f".words.beside {{ width: {mm(beside_qr)} }}",
        f".name {{ font-size: {mm(sizes.name)}; font-weight: 700; overflow: hidden;"
        f" max-height: {mm(sizes.name * sizes.name_lines * Decimal('1.22'))};"
        " overflow-wrap: anywhere }",
        f".price {{ font-size: {mm(sizes.price)}; font-weight: 700; white-space: nowrap }}",
        f".small {{ font-size: {mm(sizes.small)}; white-space: nowrap; overflow: hidden;"
        " text-overflow: ellipsis }",
        f".qr {{ position: absolute; right: {mm(sizes.padding)};"
        f" top: {mm((geometry.label_height - sizes.qr) / 2)};"
        f" width: {mm(sizes.qr)}; height: {mm(sizes.qr)} }}",
        f".code {{ font-size: {mm(sizes.small)}; font-weight: 400 }}",
        f".caution {{ font-size: {mm(sizes.small)}; overflow-wrap: anywhere }}",
        ".cut-lines .tag { outline: 0.1mm solid #1f2747 }",
        ".outline { position: absolute; border: 0.1mm solid #1f2747; box-sizing: border-box;"
        f" width: {mm(geometry.label_width)}; height: {mm(geometry.label_height)} }}",
        ".advice { position: absolute; left: 10%; top: 22%; width: 80%; font-size: 3.6mm;"
        " background: #fff; padding: 3mm; box-sizing: border-box }",
        ".advice h1 { font-size: 5mm; margin-bottom: 1mm }",
        ".bar { height: 4mm; width: 50mm; margin-top: 3mm; border: 0.2mm solid #1f2747;"
        " border-top: 0; box-sizing: border-box }",
        ".bar.upright { width: 4mm; height: 50mm; border-top: 0.2mm solid #1f2747;"
        " border-right: 0 }",
        ".hidden-heading { position: absolute; left: 0; top: 0; font-size: 0.1mm; color: #fff }",
    ]
    rules += [f".c{c} {{ left: {mm(geometry.x(c))} }}" for c in range(geometry.columns)]
    rules += [f".r{r} {{ top: {mm(geometry.y(r))} }}" for r in range(geometry.rows)]
    return "\n".join(rules)


def remember_tags(
    *, printed: Sequence[tuple[PriceListEntry | None, Decimal, int]], by: User
) -> list[TagPrint]:
    """Store what was printed as (price of the list, price on the tag, count).

    A tag with a price that is asked nowhere is nobody's to keep true and is left out.
    """
    counts: dict[PriceListEntry, int] = {}
    for entry, price, count in printed:
        if entry is not None and entry.price == price:
            counts[entry] = counts.get(entry, 0) + count
    return TagPrint.objects.bulk_create(
        TagPrint(entry=entry, count=count, printed_by=by) for entry, count in counts.items()
    )
