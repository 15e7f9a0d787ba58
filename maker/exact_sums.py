"""Sums the database adds up exactly, and the months it adds them up by.

Amounts are added up as whole millionths: SQLite would add decimals as floats, and a line that must
come to 0.00 forgives none.
"""

from decimal import Decimal
from typing import Any

from django.db import models


class Millionths(models.Func):
    """A decimal column as a whole number of millionths, exact on every database."""

    template = "CAST(ROUND(%(expressions)s * 1000000) AS BIGINT)"
    output_field = models.BigIntegerField()

    def as_postgresql(self, compiler: Any, connection: Any, **options: Any) -> Any:
        """Multiply alone: PostgreSQL keeps decimals exact, and casting them is most of the work."""
        return self.as_sql(compiler, connection, template="%(expressions)s * 1000000", **options)


class MonthOf(models.Func):
    """The first day of the month of a day, as the database reckons it.

    Django's own truncation calls Python for every row on SQLite.
    """

    template = "SUBSTR(%(expressions)s, 1, 7) || '-01'"
    output_field = models.DateField()

    def as_postgresql(self, compiler: Any, connection: Any, **options: Any) -> Any:
        """Truncate as PostgreSQL does."""
        template = "CAST(DATE_TRUNC('month', CAST(%(expressions)s AS TIMESTAMP)) AS DATE)"
        return self.as_sql(compiler, connection, template=template, **options)


def from_millionths(value: int | None) -> Decimal:
    """Return a sum of millionths as the decimal it stands for."""
    return Decimal(int(value or 0)).scaleb(-6)
