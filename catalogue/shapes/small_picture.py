"""The picture of a shape at its sample size, for where one is chosen among many."""

from functools import cache

from django.utils.safestring import SafeString, mark_safe

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.shapes.folded import finished_svg
from catalogue.shapes.samples import sample_sizes


@cache
def small_picture(name: str) -> SafeString:
    """Return a form's picture, drawn once for each process."""
    form = FORMS[name]
    pattern = flat_pattern(name, sample_sizes(form, "mm"), unit="mm")
    svg = finished_svg(pattern, title=f"{form.title}, folded", width=200)
    return mark_safe(svg)  # noqa: S308  # drawn by us, texts escaped
