"""Prints the flat pattern of a form for a finished size as JSON, and draws it on request."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from catalogue.calc.flat_patterns import FORMS, flat_pattern, form_named, form_taking
from catalogue.calc.flat_patterns.pattern import FlatPattern
from catalogue.shapes.drawing import pattern_svg
from catalogue.shapes.pattern_files import (
    check_unit,
    read_size,
    read_sizes,
    write_form,
    write_pattern,
)
from maker.management.json_command import CannotDraw, JsonCommand, WrongArguments


class Command(JsonCommand):
    """Unfold one form, or list them all."""

    paths = frozenset({"svg"})
    help = "Work out blank, scores, cuts and folds of a shape from its finished size."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the form, its sizes and how to answer."""
        # sizes may stand before, between and after the options
        parser.parse_args = parser.parse_intermixed_args  # type: ignore[method-assign]
        parser.add_argument("form", nargs="?", help="the shape; --list prints all")
        parser.add_argument(
            "sizes", nargs="*", metavar="NAME=SIZE", help='such as W=7.5 D="3 1/4" edge=curved'
        )
        parser.add_argument("--unit", default="mm", help="in or mm, for every size (mm)")
        parser.add_argument("--ruler", help="round panel widths to this step: 1/16, 0.5")
        parser.add_argument("--svg", metavar="FILE", help="draw the pattern at true size")
        parser.add_argument("--list", action="store_true", help="print every shape and its sizes")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Unfold, and draw when asked to."""
        unit = check_unit(options["unit"])
        if options["list"]:
            chosen = [form_named(options["form"])] if options["form"] else FORMS.values()
            return {"forms": [write_form(form) for form in chosen]}
        if not options["form"]:
            raise WrongArguments("Name a shape, or use --list to see all.", where="form")
        asked_for = form_named(options["form"])
        parts = (asked_for, *map(form_named, asked_for.goes_with))
        choices = {one.name: one.choices for part in parts for one in part.inputs if one.choices}
        sizes = read_sizes(options["sizes"], unit, choices)
        ruler = options["ruler"]
        pattern = flat_pattern(
            form_taking(options["form"], sizes).name,
            sizes,
            unit=unit,
            ruler=None if ruler is None else read_size("ruler", ruler, unit),
        )
        if options["svg"]:
            _draw(pattern, Path(options["svg"]))
        return write_pattern(pattern)


def _draw(pattern: FlatPattern, path: Path) -> None:
    try:
        path.write_text(pattern_svg(pattern), encoding="utf-8")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "that isn't a file name"
        raise CannotDraw(f"The drawing cannot be written: {reason}.", where="svg") from error
