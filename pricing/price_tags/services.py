"""Puts price tags on label sheets and makes the PDF."""

import base64
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO
from itertools import groupby, islice

from django.db import transaction
from django.template.loader import render_to_string

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.documents.stamping import Stamp
from maker.workshop.services import claim_name
from pricing.calc.papers.labels import (
    LabelGeometry,
    Place,
    check_geometry,
    places,
)
from pricing.calc.papers.tag_layouts import (
    HOLE_MM,
    HOLE_STRIP_MM,
    TagLayout,
    TagPlan,
    plan_tag,
)
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
    picture: str = ""  # the item as an SVG, for layouts with room for it


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
    layout: str = TagLayout.STICKER,
    on_page: Callable[[int], None] | None = None,
) -> bytes:
    """Return a PDF with every tag in its label, true to the millimetre.

    A test page in front carries the outline of all labels and 50 mm measuring bars. Refused:
    no tags, more than MOST_TAGS, labels that do not fit their page, a start beyond the sheet,
    a caution that has no room, a label too small for the `layout`. `with_cut_lines` outlines each
    tag, for card that is cut; layouts that are cut always have them. `on_page` hears of each page,
    as in `render_pdf`.
    """
    wanted, plan = _faces(tags, geometry, TagLayout(layout))
    faces = [_face(tag, lines, plan) for tag, lines in wanted]
    on_sheets = places(geometry, sum(face.tag.count for face in faces), start_at)
    sheets = [list(sheet) for _, sheet in groupby(on_sheets, lambda place: place.page)]
    grid = [(c, r) for r in range(geometry.rows) for c in range(geometry.columns)]
    html = render_to_string(
        "print/price_tags.html",
        {
            "title": title,
            "language": locale.split("_")[0],
            "pages": sheets,
            "faces": faces,
            "outline": grid if with_test_page else [],
            "total": len(on_sheets),
            "cut_lines": with_cut_lines or plan.layout.is_cut,
            "layout": plan.layout,
            "is_folded": plan.layout.is_folded,
            "is_one_sided": plan.layout is not TagLayout.FOLDED,
        },
    )
    return render_pdf(
        html=html,
        css=_css(geometry, plan),
        on_page=on_page,
        stamps=_stamps(faces, on_sheets, geometry, first_sheet=int(with_test_page)),
        pictures=sum(2 if face.qr else 1 for face in faces),
    )


@dataclass(frozen=True, slots=True)
class _Face:
    """What all tags of one kind look like; its code is a picture of its own."""

    tag: Tag
    lines: list[str]
    qr: str
    picture: str


def _face(tag: Tag, lines: list[str], plan: TagPlan) -> _Face:
    picture = svg_address(tag.picture) if plan.picture and tag.picture else ""
    return _Face(tag, lines, _qr_image(tag.qr, plan.type.qr), picture)


def _stamps(
    faces: Sequence[_Face],
    on_sheets: Sequence[Place],
    geometry: LabelGeometry,
    *,
    first_sheet: int,
) -> list[Stamp]:
    """Put the pictures of each face on as many labels as it is wanted."""
    left_places, stamps, picture = iter(on_sheets), [], 0
    for face in faces:
        for place in islice(left_places, face.tag.count):
            sheet = first_sheet + place.page
            left, top = geometry.x(place.column), geometry.y(place.row)
            stamps.append(Stamp(sheet, picture, left, top))
            if face.qr:
                alt = f"Code for {face.tag.name}"
                stamps.append(Stamp(sheet, picture + 1, left, top, alt))
        picture += 2 if face.qr else 1
    return stamps


def check_tags(
    *,
    tags: Sequence[Tag],
    geometry: LabelGeometry,
    start_at: int = 1,
    layout: str = TagLayout.STICKER,
) -> int:
    """Refuse what `print_tags` refuses, without drawing; return how many sheets it takes."""
    faces, _ = _faces(tags, geometry, TagLayout(layout))
    *_, last = places(geometry, sum(tag.count for tag, _ in faces), start_at)
    return last.page + 1


def _faces(
    tags: Sequence[Tag], geometry: LabelGeometry, layout: TagLayout
) -> tuple[list[tuple[Tag, list[str]]], TagPlan]:
    """Return the tags that are wanted with their small lines, and the sizes of the type."""
    wanted = [tag for tag in tags if tag.count > 0]
    total = sum(tag.count for tag in wanted)
    if not total:
        raise NoTags("Enter how many tags you want of at least one design.", where="count")
    if total > MOST_TAGS:
        raise TooManyTags(
            f"{total} tags are more than the {MOST_TAGS} one file holds. Print them in batches.",
            where="count",
        )
    check_geometry(geometry)
    plan = plan_tag(
        layout,
        geometry,
        with_qr=any(tag.qr for tag in wanted),
        with_picture=any(tag.picture for tag in wanted),
        prices=[tag.price for tag in wanted],
    )
    return [(tag, _small_lines(tag, plan)) for tag in wanted], plan


def _small_lines(tag: Tag, plan: TagPlan) -> list[str]:
    """Return the small lines that have room; the caution comes first and whole."""
    sizes = plan.type
    room = plan.back_lines or sizes.small_lines
    if tag.caution:
        width = plan.small_width
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


def _qr_image(text: str, side: Decimal) -> str:
    if not text or not side:
        return ""
    import segno

    picture = BytesIO()
    segno.make_qr(text, error="m").save(picture, kind="svg", border=4, xmldecl=False)
    return svg_address(picture.getvalue().decode())


def svg_address(svg: str) -> str:
    """Return a drawing as an address inside the paper itself."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"


def _css(geometry: LabelGeometry, plan: TagPlan) -> str:
    sizes = plan.type

    def mm(value: Decimal) -> str:
        return f"{value:f}mm"

    text_width = plan.width - 2 * sizes.padding
    rules = [
        f"@page {{ size: {mm(geometry.page_width)} {mm(geometry.page_height)}; margin: 0 }}",
        f"html {{ font-family: {FONT_FAMILY}; color: #1f2747; line-height: 1.22 }}",
        "body, h1, p { margin: 0 }",
        # a whole page, but a hair less so that rounding never makes an empty one
        f".page {{ position: relative; height: {mm(geometry.page_height - Decimal('0.1'))};"
        " break-after: page; overflow: hidden }",
        f"@page face {{ size: {mm(geometry.label_width)} {mm(geometry.label_height)} }}",
        f".face {{ page: face; position: relative; break-after: page; overflow: hidden;"
        f" height: {mm(geometry.label_height - Decimal('0.1'))} }}",
        ".face:last-child { break-after: auto }",
        f".words {{ position: absolute; left: {mm(sizes.padding)}; top: {mm(sizes.padding)};"
        f" width: {mm(text_width)} }}",
        f".words.beside {{ width: {mm(plan.price_width)} }}",
        f".name {{ font-size: {mm(sizes.name)}; font-weight: 700; overflow: hidden;"
        f" max-height: {mm(sizes.name * sizes.name_lines * Decimal('1.22'))};"
        " overflow-wrap: anywhere }",
        f".price {{ font-size: {mm(sizes.price)}; font-weight: 700; white-space: nowrap }}",
        f".small {{ font-size: {mm(sizes.small)}; white-space: nowrap; overflow: hidden;"
        " text-overflow: ellipsis }",
        f".qr {{ position: absolute; right: {mm(sizes.padding)};"
        f" top: {mm(plan.qr_top)};"
        f" width: {mm(sizes.qr)}; height: {mm(sizes.qr)} }}",
        # one side of text; what folds has a second one, upside down above it
        f".side {{ position: absolute; left: 0; top: {mm(plan.top)};"
        f" width: {mm(plan.width)}; height: {mm(plan.height)} }}",
        ".back { top: 0; transform: rotate(180deg) }",
        # what is cut from card has its text in the middle of each side
        ".hanging, .folded, .card { text-align: center }",
        ":is(.hanging, .folded, .card) .side { display: flex; flex-direction: column;"
        " justify-content: center }",
        ":is(.hanging, .folded, .card) .words { position: static;"
        f" margin-left: {mm(sizes.padding)} }}",
        f":is(.hanging, .folded, .card) .words.pictured {{ margin-left:"
        f" {mm(sizes.padding + plan.picture)}; width: {mm(plan.price_width)} }}",
        f".picture {{ position: absolute; left: {mm(sizes.padding)};"
        f" top: {mm((plan.height - plan.picture) / 2)}; width: {mm(plan.picture)};"
        f" height: {mm(plan.picture)}; object-fit: contain }}",
        ".hanging .small { white-space: normal }",
        f".hanging .qr {{ right: {mm((plan.width - sizes.qr) / 2)} }}",
        f".hole {{ position: absolute; left: {mm((plan.width - HOLE_MM) / 2)};"
        f" top: {mm((HOLE_STRIP_MM - HOLE_MM) / 2)}; width: {mm(HOLE_MM)};"
        f" height: {mm(HOLE_MM)}; border-radius: 50%; border: 0.1mm solid #1f2747;"
        " box-sizing: border-box }",
        f".fold {{ position: absolute; left: 0; top: {mm(plan.top)};"
        f" width: {mm(plan.width)}; border-top: 0.25mm dashed #857a66 }}",
        f".code {{ font-size: {mm(sizes.small)}; font-weight: 400 }}",
        f".caution {{ font-size: {mm(sizes.small)}; overflow-wrap: anywhere }}",
        f".cut-line {{ position: absolute; outline: 0.1mm solid #1f2747;"
        f" width: {mm(geometry.label_width)}; height: {mm(geometry.label_height)} }}",
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
