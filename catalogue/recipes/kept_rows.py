"""The rows of recipes as they were last written, kept from one page to the next.

Every page about a price reads the recipe of a design, a dozen queries; a recipe seldom changes.
Whoever writes one marks its version with a stamp nobody had before, so what is kept under a stamp
holds for as long as the version bears it, whichever process wrote and however the transaction
ended. What materials cost is not part of it and is read each time.
"""

import copy
from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from threading import Lock
from types import MappingProxyType
from typing import Any
from uuid import UUID

from django.db import models

# a recipe takes some 30 KB
MOST_VERSIONS = 256
# what hangs on a version itself, and on those rows
OF_VERSION = ("roles", "pieces", "fixings", "steps", "wears", "packings", "options", "colourways")
BELOW = {"options": "choices", "colourways": "materials"}

NOTHING_LOADED: Mapping[int, Any] = MappingProxyType({})

# rows of one kind, each as the values of its columns
Rows = tuple[tuple[Any, ...], ...]
Key = tuple[int, UUID]


class KeptRows:
    """The values of recipe rows by version, stamp and kind; the longest unused are let go."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Key, dict[str, Rows]] = OrderedDict()
        self._lock = Lock()

    def find(self, key: Key) -> dict[str, Rows]:
        """Return what is kept of a version, by kind."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return dict(self._kept.get(key, {}))

    def keep(self, key: Key, rows: dict[str, Rows]) -> None:
        """Keep some kinds of rows of a version beside those that are kept of it."""
        with self._lock:
            self._kept[key] = self._kept.get(key, {}) | rows
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)


_KEPT = KeptRows(MOST_VERSIONS)


def load_rows(
    versions: Sequence[Any],
    kinds: Iterable[str],
    materials: "models.QuerySet[Any]",
    loaded: Mapping[int, Any] = NOTHING_LOADED,
) -> None:
    """Give versions their rows of some kinds, as a prefetch would, with materials as asked for.

    Materials that are loaded already, by key, are not read again. The number of queries is fixed:
    one for the other materials and what hangs on them, and one for each kind of rows (and one more)
    where a version's are not kept.
    """
    kinds = tuple(kinds)
    wanted = [*kinds, *(BELOW[kind] for kind in kinds if kind in BELOW)]
    rows = {version.pk: _kept_of(version) for version in versions}
    missing = [
        version for version in versions if any(kind not in rows[version.pk] for kind in wanted)
    ]
    if missing:
        read = _read(missing, kinds)
        _keep_if_unchanged(missing, read)
        rows |= read
    holders: list[Any] = []
    for kind in kinds if versions else ():
        hanging = _Hanging(type(versions[0]), kind)
        for version in versions:
            holders += hanging.on(version, rows[version.pk])
    missing_keys = {row.material_id for row in holders} - loaded.keys()
    found = {**loaded, **(materials.in_bulk(missing_keys) if missing_keys else {})}
    for row in holders:
        row._state.fields_cache["material"] = found[row.material_id]


def _kept_of(version: Any) -> dict[str, Rows]:
    stamp = version.recipe_stamp
    return {} if stamp is None else _KEPT.find((version.pk, stamp))


def _in_order(owner: type[models.Model], kind: str) -> "models.QuerySet[Any]":
    model: Any = owner._meta.get_field(kind).related_model
    order = ("pk",) if kind == "materials" else ("position", "pk")
    return model._default_manager.order_by(*order)


def _read(versions: Sequence[Any], kinds: Iterable[str]) -> dict[int, dict[str, Rows]]:
    """Read the rows of versions, in one query for each kind."""
    found: dict[int, dict[str, Rows]] = {version.pk: {} for version in versions}
    owner = type(versions[0])
    for kind in kinds:
        by_owner = _values(owner, kind, found)
        for key, rows in by_owner.items():
            found[key][kind] = rows
        below = BELOW.get(kind)
        if below:
            model: Any = owner._meta.get_field(kind).related_model
            # each of these rows begins with its key
            owners = {row[0]: key for key, rows in by_owner.items() for row in rows}
            of_rows = _values(model, below, owners) if owners else {}
            for key, rows in by_owner.items():
                found[key][below] = tuple(one for row in rows for one in of_rows[row[0]])
    return found


def _values(owner: type[models.Model], kind: str, keys: Iterable[int]) -> dict[int, Rows]:
    field: Any = owner._meta.get_field(kind)
    names = [column.attname for column in field.related_model._meta.concrete_fields]
    at = names.index(field.remote_field.attname)
    found: dict[int, list[tuple[Any, ...]]] = {key: [] for key in keys}
    rows = _in_order(owner, kind).filter(**{f"{field.remote_field.name}__in": list(found)})
    for row in rows.values_list(*names):
        found[row[at]].append(row)
    return {key: tuple(those) for key, those in found.items()}


def _keep_if_unchanged(versions: Sequence[Any], rows: dict[int, dict[str, Rows]]) -> None:
    """Keep rows of versions whose stamp is still the one it was before the rows were read."""
    stamps = {version.pk: version.recipe_stamp for version in versions if version.recipe_stamp}
    if not stamps:
        return
    now = type(versions[0])._default_manager.filter(pk__in=stamps)
    for key, stamp in now.values_list("pk", "recipe_stamp"):
        if stamp == stamps[key]:
            _KEPT.keep((key, stamp), rows[key])


class _Hanging:
    """Hangs rows of one kind on what they belong to."""

    def __init__(self, owner: type[models.Model], kind: str) -> None:
        field: Any = owner._meta.get_field(kind)
        self.kind = kind
        self.model = field.related_model
        self.link = field.remote_field.name
        self.columns = [column.attname for column in self.model._meta.concrete_fields]
        self.at = self.columns.index(field.remote_field.attname)
        self.in_order = _in_order(owner, kind)
        self.below = _Hanging(self.model, BELOW[kind]) if kind in BELOW else None

    def on(self, owner: Any, rows: dict[str, Rows]) -> list[Any]:
        """Let an owner's related manager find its rows; return those with a material."""
        made, holders = [], []
        for values in rows[self.kind]:
            if values[self.at] != owner.pk:
                continue
            # what a page does with sizes or the like must not reach the next page
            own = [copy.deepcopy(one) if isinstance(one, dict) else one for one in values]
            row = self._made(own, owner._state.db)
            row._state.fields_cache[self.link] = owner
            made.append(row)
            if self.below:
                holders += self.below.on(row, rows)
        if "material_id" in self.columns:
            holders += made
        # what a prefetch does
        queryset = getattr(owner, self.kind)._apply_rel_filters(self.in_order)
        queryset._result_cache = made
        queryset._prefetch_done = True
        owner.__dict__.setdefault("_prefetched_objects_cache", {})[self.kind] = queryset
        return holders

    def _made(self, values: Sequence[Any], database: str | None) -> Any:
        """Return a row as unpickling makes it: whole at once, half the time of field by field."""
        row = self.model.__new__(self.model)
        row._state = models.base.ModelState()
        row._state.adding, row._state.db = False, database
        row.__dict__.update(zip(self.columns, values, strict=True))
        return row
