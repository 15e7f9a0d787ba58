"""Prints the price list of a design for customers: no cost, floor or margin is on it."""

import datetime
from collections.abc import Sequence

from babel.dates import format_date
from django.template.loader import render_to_string

from catalogue.designs.models import Design
from catalogue.recipes.inputs import item_cautions
from catalogue.recipes.models import DesignVersion
from maker.calc.money import format_money
from maker.documents.pdf import render_pdf
from maker.documents.print_style import paper_of, print_css
from maker.workshop.models import Workshop
from pricing.calc.papers.choices import tells_something
from pricing.costs.forms import OPTION_PREFIX, AskForm
from pricing.prices.models import PriceListEntry
from pricing.quantities.drawing import better_from


def chosen_words(version: DesignVersion, form: AskForm) -> list[str]:
    """Return colourway and options as a customer reads them."""
    words = []
    colourway = form.chosen_colourway()
    if colourway is not None:
        words.append(f"Colour: {colourway.name}")
    for option in version.options.all():
        key = form.cleaned_data.get(OPTION_PREFIX + option.key)
        named = next((c.name for c in option.choices.all() if c.key == key), None)
        if named:
            words.append(f"{option.name}: {named}")
    return [said for said in words if tells_something(said)]


def _cautions(version: DesignVersion, form: AskForm) -> tuple[str, ...]:
    return item_cautions(version, dict(form.ask().choices), form.ask().quantity)


def price_list_pdf(
    entries: Sequence[PriceListEntry],
    *,
    design: Design,
    version: DesignVersion,
    workshop: Workshop,
    form: AskForm,
    today: datetime.date,
) -> bytes:
    """Return an item's kept prices as a PDF. Refusal: PdfLibraryMissing."""

    def money(amount: object) -> str:
        return format_money(amount, workshop.currency, workshop.locale)  # type: ignore[arg-type]

    tax_note = ""
    if any(entry.tax_rate for entry in entries):
        included = "included" if workshop.prices_include_tax else "not included"
        tax_note = f"{workshop.tax_name or 'Tax'} is {included}."
    rows = [(entry.bought_at_once, entry.price) for entry in entries]
    html = render_to_string(
        "print/price_list.html",
        {
            "workshop": workshop,
            "address": workshop.address.splitlines(),
            "design": design,
            "version": version,
            "words": chosen_words(version, form),
            "caution": " ".join(_cautions(version, form)),
            "day": format_date(today, "long", workshop.locale),
            "rows": [
                {
                    "quantity": quantity,
                    "price_each": money(price),
                    "total": money(quantity * price),
                    "better_from": better_from(before, (quantity, price)) if before else None,
                }
                for before, (quantity, price) in zip([None, *rows], rows, strict=False)
            ],
            "tax_note": tax_note,
            "language": workshop.locale.replace("_", "-")
            if workshop.locale.startswith("en")
            else "en",
        },
    )
    return render_pdf(html=html, css=print_css(paper_of(workshop.locale)))
