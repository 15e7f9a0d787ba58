"""Many rows written with few statements: what takes time is done before the transaction.

SQLite has one writer at a time. Turning rows into values for the database takes ten times as long
as writing them, so it is done before anybody has to wait.
"""

import sqlite3
from collections.abc import Sequence
from typing import Any, cast

from django.db import connection, models

AT_ONCE = 500


class ReadyRows:
    """New rows as values for the database.

    `links` are columns that name rows which may have no key yet: those are written before these.
    """

    def __init__(self, rows: Sequence[models.Model], links: Sequence[str] = ()) -> None:
        self.rows = rows
        if not rows:
            return
        meta = rows[0]._meta
        fields = [one for one in meta.concrete_fields if not one.primary_key and not one.generated]
        self.places = {one.name: place for place, one in enumerate(fields) if one.name in links}
        self.values = [
            [
                None
                if field.name in self.places
                else field.get_db_prep_save(field.pre_save(row, add=True), connection)
                for field in fields
            ]
            for row in rows
        ]
        quoted = connection.ops.quote_name
        columns = ", ".join(quoted(cast(str, one.column)) for one in fields)
        # names of our own tables and columns; what people typed is in the values
        self.insert = f"INSERT INTO {quoted(meta.db_table)} ({columns}) VALUES "  # noqa: S608
        self.key = quoted(cast(str, meta.pk.column))
        self.at_once = min(AT_ONCE, _most_values() // len(fields))

    def write(self) -> None:
        """Insert the rows and give each its key, as `bulk_create` does."""
        for start in range(0, len(self.rows), self.at_once) if self.rows else ():
            rows = self.rows[start : start + self.at_once]
            values = self.values[start : start + self.at_once]
            for row, own in zip(rows, values, strict=True):
                for name, place in self.places.items():
                    linked = getattr(row, name)
                    # takes over the key it was given since
                    setattr(row, name, linked)
                    own[place] = None if linked is None else linked.pk
            one = f"({', '.join(['%s'] * len(values[0]))})"
            with connection.cursor() as cursor:
                cursor.execute(
                    f"{self.insert}{', '.join([one] * len(rows))} RETURNING {self.key}",
                    [value for own in values for value in own],
                )
                for row, (key,) in zip(rows, cursor.fetchall(), strict=True):
                    row.pk = key
                    row._state.adding, row._state.db = False, connection.alias


def _most_values() -> int:
    """Return how many values a statement may have."""
    connection.ensure_connection()
    if connection.vendor == "sqlite":
        own: Any = connection.connection
        return int(own.getlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER))
    return 65_535


def update_rows(rows: Sequence[models.Model], names: Sequence[str]) -> None:
    """Write some columns of stored rows, all with one statement."""
    if not rows:
        return
    meta = rows[0]._meta
    fields: list[Any] = [meta.get_field(name) for name in names]
    quoted = connection.ops.quote_name
    columns = ", ".join(f"{quoted(one.column)} = %s" for one in fields)
    values = [
        [*(one.get_db_prep_save(getattr(row, one.attname), connection) for one in fields), row.pk]
        for row in rows
    ]
    table, key = quoted(meta.db_table), quoted(cast(str, meta.pk.column))
    with connection.cursor() as cursor:
        # names of our own tables and columns, as above
        cursor.executemany(f"UPDATE {table} SET {columns} WHERE {key} = %s", values)  # noqa: S608
