"""Patterns for tests: every form of the library at the size its page begins with."""

from fractions import Fraction

from catalogue.calc.flat_patterns import FORMS, flat_pattern
from catalogue.shapes.samples import sample_sizes


def sample_pattern(name, unit="mm", **sizes):
    """The pattern of a form at its sample size, some sizes changed."""
    changed = {key: Fraction(value) for key, value in sizes.items()}
    return flat_pattern(name, {**sample_sizes(FORMS[name], unit), **changed}, unit=unit)
