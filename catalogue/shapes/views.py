"""Pages of the library of forms: all forms, one form at a size, its template and its lines."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from hashlib import sha256
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.cache import caches
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_GET

from catalogue.calc.flat_patterns import FORMS, flat_pattern, goes_beside
from catalogue.calc.flat_patterns.pattern import BadSize, FlatPattern, Form
from catalogue.calc.flat_patterns.tiles import PAPERS_MM
from catalogue.materials.models import Material
from catalogue.shapes.answer import (
    Advice,
    advice_for,
    figures_of,
    fit_rows,
    thickness_to_count,
    without_bound,
)
from catalogue.shapes.drawing import key_of, pattern_svg, piece_for_page
from catalogue.shapes.folded import HEIGHT, WIDTH, Frame, finished_svg, folding_frames, folds
from catalogue.shapes.forms import (
    SizeForm,
    as_typed,
    first_entries,
    likely_length,
    nearest_entry,
)
from catalogue.shapes.groups import grouped
from catalogue.shapes.inputs import sheets_in_use
from catalogue.shapes.printing import template_pages, template_pdf
from catalogue.shapes.small_picture import small_picture
from catalogue.shapes.words import (
    cut_list,
    length_text,
    piece_description,
    piece_title,
    score_tables,
    size_on_other_ruler,
    size_rows,
    slanted_folds,
)
from maker.calc.refusal import Refusal
from maker.calc.units import format_number
from maker.documents.print_style import paper_of
from maker.heavy_pages.marks import heavy
from maker.web.access import WorkshopRequest, may_see
from maker.web.parts import asks_for_part, beside_the_entry, part_or_page
from maker.workshop.models import Workshop

# sheets in sight; the others can be opened
FITS_SHOWN = 5


@dataclass(frozen=True, slots=True)
class Mend:
    """A size that works in the place of one that does not: one tap."""

    name: str
    text: str
    href: str


class AskedSizes:
    """What an address asks: a form at a size, and whether that can be folded."""

    def __init__(self, request: WorkshopRequest, form: str) -> None:
        if form not in FORMS:
            raise Http404("There is no such shape.")
        self.workshop = request.workshop
        self.form: Form = FORMS[form]
        self.sheets: list[Material] = sheets_in_use(request.workshop)
        self.data = _entries(request.GET, self.form, request.workshop)
        self.size_form = SizeForm(
            self.data, workshop=request.workshop, form=self.form, sheets=self.sheets
        )
        self.refused: BadSize | None = None
        self.pattern: FlatPattern | None = self._pattern() if self.size_form.is_valid() else None

    def _pattern(self) -> FlatPattern | None:
        try:
            return flat_pattern(
                self.form.name,
                self.size_form.sizes(),
                unit=self.workshop.unit,
                ruler=self.size_form.ruler_step(),
            )
        except BadSize as refused:
            self.refused = refused
            where = refused.where if refused.where in self.size_form.fields else None
            self.size_form.add_error(where, refused.message)
            return None

    @cached_property
    def query(self) -> str:
        """The sizes as an address has them."""
        return self.data.urlencode()

    def with_size(self, name: str, text: str) -> str:
        """Return the query with one size changed."""
        data = self.data.copy()
        data[name] = text
        return f"?{data.urlencode()}"

    def mend(self) -> Mend | None:
        """Return the nearest size that works, where there is one."""
        if self.refused is None:
            name, nearest = self._meant()
        else:
            name, nearest = self.refused.where, self.refused.nearest
        if nearest is None:
            return None
        text = nearest_entry(self.form, self.size_form, name=name, nearest=nearest)
        if not text:
            return None
        return Mend(name, f"Use {text} {self.workshop.unit}", self.with_size(name, text))

    def _meant(self) -> tuple[str, Fraction | None]:
        """Return the first size that could not be read, and the length it may have meant."""
        for one in self.form.inputs:
            if one.name in self.size_form.errors:
                text = self.data.get(one.name, "")
                return one.name, likely_length(text, self.workshop)
        return "", None

    def thicker(self) -> Mend | None:
        """Return the thickness of the sheet chosen, where the pattern should count it."""
        sheet = self.size_form.chosen_sheet()
        thickness = thickness_to_count(self.pattern, sheet) if self.pattern else None
        if thickness is None or sheet is None:
            return None
        text = f"{format_number(thickness)} mm"
        return Mend("t", f"{sheet.name} is {text} thick", self.with_size("t", text))

    def title(self) -> str:
        """Write what it is and how large: the name of its files' documents."""
        sizes = [
            self.data.get(one.name, "")
            for one in self.form.inputs
            if one.is_length and one.group == "size"
        ]
        return f"{self.form.title}, {' × '.join(filter(None, sizes))} {self.workshop.unit}"


def _entries(given: QueryDict, form: Form, workshop: Workshop) -> QueryDict:
    """Return what is in the fields: as given, a size to begin with where nothing is."""
    data = QueryDict(mutable=True)
    for name, text in first_entries(form, workshop).items():
        data[name] = text
    for name in (*(one.name for one in form.inputs), "ruler", "sheet", "grammage"):
        if name in given:
            data[name] = str(given[name])[:60]
    return data


@require_GET
@may_see
def shape_list(request: WorkshopRequest) -> HttpResponse:
    """Show every form of the library, folded."""
    groups = [
        {
            "title": group.title,
            "forms": [{"form": form, "picture": small_picture(form.name)} for form in group.forms],
        }
        for group in grouped(FORMS)
    ]
    return render(request, "catalogue/shapes/list.html", {"groups": groups})


@require_GET
@may_see
def shape(request: WorkshopRequest, form: str) -> HttpResponse:
    """Answer a size while she types: drawings, scores, cuts, sheets that take it.

    A size that cannot be folded leaves the last drawing standing and is explained.
    """
    asked = AskedSizes(request, form)
    context: dict[str, Any] = {
        "folded": asked.form,
        "form": asked.size_form,
        "query": asked.query,
        "mend": asked.mend(),
        "has_errors": bool(asked.size_form.errors),
        "allowances_open": any(field.errors for field in asked.size_form.allowance_fields()),
    }
    if asked.pattern:
        context |= _answer(asked, asked.pattern)
        if "advice" in request.GET and not asks_for_part(request):
            context |= _advice(asked, asked.pattern)
    part = "_answer" if asked.pattern else "_live_problems"
    response = part_or_page(
        request, f"catalogue/shapes/{part}.html", "catalogue/shapes/form.html", context
    )
    return response if asked.pattern else beside_the_entry(response)


def _goes_with(asked: AskedSizes) -> list[dict[str, str]]:
    """Return what goes with a form, each at the sizes it takes from it as far as they are known."""
    slug, unit = asked.workshop.slug, asked.workshop.unit
    links = []
    for beside in goes_beside(
        asked.form.name,
        asked.size_form.sizes(),
        unit=unit,
        ruler=asked.size_form.ruler_step(),
    ):
        query = {name: as_typed(value, asked.workshop) for name, value in beside.sizes.items()}
        for name in ("ruler", "sheet"):
            if asked.data.get(name):
                query[name] = str(asked.data[name])
        page = reverse("catalogue:shape", args=[slug, beside.form.name])
        links.append(
            {
                "name": beside.companion.name,
                "title": beside.form.title,
                "href": f"{page}?{urlencode(query)}" if query else page,
            }
        )
    return links


def _frames(pattern: FlatPattern) -> tuple[Frame, ...]:
    """Return the states of folding; the same size is asked for again with each other entry."""
    key = f"folding-{sha256(repr(pattern).encode()).hexdigest()}"
    frames: tuple[Frame, ...] | None = caches["figures"].get(key)
    if frames is None:
        frames = folding_frames(pattern)
        caches["figures"].set(key, frames)
    return frames


def _answer(asked: AskedSizes, pattern: FlatPattern) -> dict[str, Any]:
    """Return what the page shows of a pattern that can be folded."""
    frames = _frames(pattern) if folds(pattern) else ()
    usual = _usual_paper(asked)
    return {
        "pattern": pattern,
        "thicker": asked.thicker(),
        "counted": length_text(pattern.inputs.get("t", Fraction(0)), pattern.unit),
        "figures": figures_of(pattern, asked.size_form.grammage()),
        "sizes": size_rows(asked.form, pattern),
        "picture": None if frames else _safe(finished_svg(pattern, title=asked.title())),
        "frames": [(frame, _safe(frame.svg)) for frame in frames],
        "picture_box": f"0 0 {WIDTH:g} {HEIGHT:g}",
        "pieces": [_piece(pattern, at) for at in range(len(pattern.pieces))],
        "key": [(_safe(sample), words) for sample, words in key_of(pattern.pieces)],
        "is_cut_away": any(piece.removed for piece in pattern.pieces),
        "papers": [
            (paper, pages)
            for paper in sorted(PAPERS_MM, key=lambda one: one != usual)
            if (pages := template_pages(pattern, paper))
        ],
        "goes_with": _goes_with(asked),
        **_sheets(asked, pattern),
    }


def _piece(pattern: FlatPattern, at: int) -> dict[str, Any]:
    piece, unit = pattern.pieces[at], pattern.unit
    svg, numbers = piece_for_page(piece, unit=unit, name=f"piece{at + 1}")
    return {
        "title": piece_title(piece, unit),
        "other_size": size_on_other_ruler(piece, unit),
        "svg": _safe(svg),
        "numbers": numbers,
        "description": piece_description(piece, unit),
        "scores": score_tables(piece, unit),
        "slanted": slanted_folds(piece, unit),
        "cuts": cut_list(piece, unit),
        "grain": piece.grain,
    }


def _sheets(asked: AskedSizes, pattern: FlatPattern) -> dict[str, Any]:
    """Return which sheets take it."""
    chosen = asked.size_form.chosen_sheet()
    rows = fit_rows(pattern, [chosen] if chosen else asked.sheets)
    return {
        "fits": rows[:FITS_SHOWN],
        "more_fits": rows[FITS_SHOWN:],
        "best_fit": max((row.per_sheet for row in rows if row.takes_it), default=0),
    }


def _advice(asked: AskedSizes, pattern: FlatPattern) -> dict[str, Any]:
    """Return what may change on the sheet chosen, or the smallest that takes it."""
    chosen = asked.size_form.chosen_sheet()
    rows = fit_rows(pattern, [chosen] if chosen else asked.sheets)
    if not rows:
        return {}
    advice = without_bound(
        asked.form,
        advice_for(
            asked.form,
            pattern,
            asked.size_form.sizes(),
            rows[0].material,
            asked.size_form.ruler_step(),
        ),
    )
    changes = _changes(asked, advice)
    return {"advice": advice, "changes": changes, "takes_it": rows[0].takes_it}


@heavy()
@require_GET
@may_see
def shape_sheets(request: WorkshopRequest, form: str) -> HttpResponse:
    """What may change on a sheet; many sizes are tried, so it is loaded after the page.

    Without JavaScript the link leads to the page with the answer in it.
    """
    asked = AskedSizes(request, form)
    if not asks_for_part(request):
        return redirect(_page_of(asked) + "&advice=yes#sheets")
    context = _advice(asked, asked.pattern) if asked.pattern else {}
    page = _page_of(asked).partition("?")[0]
    return render(request, "catalogue/shapes/_advice.html", {**context, "page": page})


def _page_of(asked: AskedSizes) -> str:
    page = reverse("catalogue:shape", args=[asked.workshop.slug, asked.form.name])
    return f"{page}?{asked.query}"


def _changes(asked: AskedSizes, advice: Advice) -> dict[str, Any]:
    """Return the changes with the addresses that make them."""

    def linked(name: str, value: Fraction) -> str:
        return asked.with_size(name, as_typed(value, asked.workshop))

    largest = asked.data.copy()
    for name, value in advice.largest:
        largest[name] = as_typed(value, asked.workshop)
    return {
        "free": [(one.text, linked(one.name, one.value)) for one in advice.free],
        "saving": [(one.text, linked(one.name, one.value)) for one in advice.saving],
        "largest": f"?{largest.urlencode()}" if advice.largest else "",
    }


def _usual_paper(asked: AskedSizes) -> str:
    return paper_of(asked.workshop.locale).capitalize()


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308  # drawn by us, texts escaped


@heavy()
@require_GET
@may_see
def shape_pdf(request: WorkshopRequest, form: str) -> HttpResponse:
    """Answer with templates at true size; what cannot be printed leads back to the page."""
    asked = AskedSizes(request, form)
    if asked.pattern is None:
        return _back(request, asked)
    usual = _usual_paper(asked)
    paper = request.GET.get("paper", usual)
    try:
        pdf = template_pdf(
            asked.pattern,
            title=asked.title(),
            paper=paper if paper in PAPERS_MM else usual,
            locale=asked.workshop.locale,
        )
    except Refusal as refusal:
        return _back(request, asked, refusal)
    return _file(pdf, "application/pdf", f"{form}.pdf", is_download=False)


@require_GET
@may_see
def shape_file(request: WorkshopRequest, form: str) -> HttpResponse:
    """Answer with the lines at true size as an SVG file; `lines=only` leaves words out."""
    asked = AskedSizes(request, form)
    if asked.pattern is None:
        return _back(request, asked)
    only_lines = request.GET.get("lines") == "only"
    svg = pattern_svg(asked.pattern, with_notes=not only_lines)
    name = f"{form}-lines.svg" if only_lines else f"{form}.svg"
    return _file(svg.encode(), "image/svg+xml", name, is_download=True)


def _back(
    request: WorkshopRequest, asked: AskedSizes, refusal: Refusal | None = None
) -> HttpResponse:
    if refusal:
        messages.error(request, refusal.message)
    return redirect(_page_of(asked))


def _file(data: bytes, content_type: str, name: str, *, is_download: bool) -> HttpResponse:
    answer = HttpResponse(data, content_type=content_type)
    answer["Content-Disposition"] = content_disposition_header(is_download, name) or "inline"
    answer["Cache-Control"] = "private, no-store"
    return answer
