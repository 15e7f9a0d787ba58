"""Hundreds of workshops in one database: copies of some that are there, with keys of their own.

One statement for each table: a row of copy number n has the key of its model plus n strides, and so
has whatever it points to. A stride is longer than the highest key, so no two rows meet.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models, transaction

from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop

APPS = ("maker", "catalogue", "pricing")
_INSERT = """
WITH RECURSIVE copy (n) AS (
    SELECT {first} UNION ALL SELECT n + 1 FROM copy WHERE n < {last}
)
INSERT INTO {table} ({columns})
SELECT {values} FROM {table} source CROSS JOIN copy WHERE source.id IN ({keys})
"""


@transaction.atomic
def copy_workshops(copies: Mapping[Workshop, int]) -> int:
    """Add so many copies of each workshop, each with an owner of its own; return their rows."""
    ways = {model: way for model in _models() if (way := _way_to_workshop(model))}
    stride = max(model._default_manager.aggregate(last=models.Max("pk"))["last"] or 0
                 for model in _models()) + 1  # fmt: skip
    rows, first = 0, 1
    with connection.cursor() as cursor:
        for workshop, count in copies.items():
            last = first + count - 1
            for model, way in ways.items():
                sources = model._default_manager.filter(**{way: workshop.pk})
                # the name is needed twice: the keys are a query of their own
                keys, given = sources.order_by().values("pk").query.sql_with_params()
                values = _copied_columns(model, set(ways), stride)
                cursor.execute(
                    _INSERT.format(
                        first=first, last=last, table=model._meta.db_table, keys=keys,
                        columns=", ".join(values), values=", ".join(values.values()),
                    ),
                    given,
                )  # fmt: skip
                rows += sources.count() * count
            _let_owners_in(workshop, stride, range(first, last + 1))
            first = last + 1
        for statement in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(statement)
    return rows


def settle() -> None:
    """Let the database look at what it holds, as it does by itself once in a while."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE" if connection.vendor == "sqlite" else "VACUUM ANALYZE")


def _models() -> list[type[models.Model]]:
    return [model for name in APPS for model in apps.get_app_config(name).get_models()]


def _way_to_workshop(
    model: type[models.Model], passed: tuple[type[models.Model], ...] = ()
) -> str | None:
    """Return how a query gets from its rows to their workshop; None for what is of none."""
    if model is Workshop:
        return "pk"
    if model is Membership:
        return None
    for column in _needed_relations(model):
        if column.related_model is Workshop:
            return column.name
    for column in _needed_relations(model):
        target: Any = column.related_model
        if target not in (model, *passed):
            way = _way_to_workshop(target, (*passed, model))
            if way:
                return f"{column.name}__{way}"
    return None


def _needed_relations(model: type[models.Model]) -> Iterator[Any]:
    return (
        column for column in model._meta.concrete_fields if column.is_relation and not column.null
    )


def _copied_columns(
    model: type[models.Model], copied: set[type[models.Model]], stride: int
) -> dict[str, str]:
    """Return column -> what a copy has in it, as SQL."""
    values = {}
    for column in model._meta.concrete_fields:
        name = column.column
        value = f"source.{name}"
        if column.primary_key or column.related_model in copied:
            value = f"{value} + copy.n * {stride}"
        elif column.unique and column.null:
            value = "NULL"  # the key of a form: a copy came from none
        elif column.unique or (model is Workshop and name == "name"):
            value = f"{value} || '-' || CAST(copy.n AS VARCHAR(9))"
        values[name] = value
    return values


def _let_owners_in(workshop: Workshop, stride: int, numbers: range) -> None:
    users = User.objects.bulk_create(
        User(email=f"owner-{number}@example.test", name=f"Owner {number}", password="!")
        for number in numbers
    )
    Membership.objects.bulk_create(
        Membership(user=user, workshop_id=workshop.pk + number * stride, role=Membership.Role.OWNER)
        for user, number in zip(users, numbers, strict=True)
    )
