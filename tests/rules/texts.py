"""Which columns hold what people type, and nothing that the program reads again."""

from collections.abc import Iterator
from typing import Any

from django.db.models import CharField, EmailField, Field, Model, SlugField, TextField, URLField

# Texts that the program reads again: keys, codes and versions, addresses, forms of numbers.
CODES = {
    *("password", "session_key", "session_data", "sealed_secret", "hashed", "credential_id"),
    *("public_key", "transports", "key", "code", "version", "seen_version", "worker_id"),
    *("currency", "locale", "carrier_weekdays", "quantity_steps", "content_key", "stage", "form"),
    *("columns", "number", "basis", "website", "quote_prefix"),
}
ROOM = 30


def typed_fields(model: type[Model]) -> Iterator["Field[Any, Any]"]:
    """Return the columns of a model of ours with texts as they were typed."""
    if not model.__module__.startswith(("maker.", "catalogue.", "pricing.")):
        return
    for each in model._meta.concrete_fields:
        if not isinstance(each, CharField | TextField) or each.name in CODES or each.choices:
            continue
        if isinstance(each, SlugField | EmailField | URLField):
            continue
        if each.max_length is None or each.max_length >= ROOM:
            yield each
