"""Enquiries of a workshop file, with the places they go to."""

from typing import Any

from django.db import models

from maker.calc.strict_json import Fields
from maker.workshop.models import Workshop
from pricing.enquiries.models import Enquiry, EnquiryDrop
from pricing.workshop_file import schema
from pricing.workshop_file.writing import Registry, create, read_columns

Values = dict[str, Any]


def enquired_quotes(workshop: Workshop) -> set[int]:
    """Return the quotes made of enquiries, which need a key in the file (one query)."""
    rows = Enquiry.objects.of(workshop).filter(quote__isnull=False)
    return {pk for pk in rows.values_list("quote_id", flat=True) if pk is not None}


def enquiry_keys(workshop: Workshop) -> dict[int, str]:
    """Return what enquiries are called by that came from a fair (one query)."""
    rows = Enquiry.objects.of(workshop).filter(fair_sale__isnull=False).order_by("pk")
    keys = rows.values_list("pk", flat=True)
    return {key: f"enquiry {number}" for number, key in enumerate(keys, 1)}


def enquiry_values(
    workshop: Workshop, quotes: dict[int, str], keys: dict[int, str]
) -> list[Values]:
    """Return the enquiries of a workshop (two queries)."""
    rows = (
        Enquiry.objects.of(workshop)
        .select_related("customer")
        .prefetch_related(models.Prefetch("drops", EnquiryDrop.objects.order_by("position", "pk")))
        .order_by("pk")
    )
    return [
        {
            **({"key": keys[row.pk]} if row.pk in keys else {}),
            "customer": row.customer.name,
            "quote": quotes[row.quote_id] if row.quote_id else None,
            **schema.ENQUIRY.written(row),
            "drops": [schema.ENQUIRY_DROP.written(drop) for drop in row.drops.all()],
        }
        for row in rows
    ]


def write_enquiries(rows: list[Fields], customers: Registry, quotes: Registry) -> Registry:
    """Store enquiries as written. Returned are those with a key."""
    keyed = Registry("enquiry")
    enquiries, drops = [], []
    taken: set[int] = set()
    for row in rows:
        key = row.optional_text("key")
        quote = quotes.optional(row, "quote")
        enquiry = Enquiry(
            customer=customers.of(row, "customer"),
            quote=quote,
            **read_columns(schema.ENQUIRY, row, "drops"),
        )
        if (quote is not None) and enquiry.state == Enquiry.State.OPEN:
            raise row.refuse("An open enquiry has no quote yet.", "state")
        if quote is not None:
            if quote.pk in taken:
                raise row.refuse("A quote is of one enquiry.", "quote")
            taken.add(quote.pk)
        enquiries.append(enquiry)
        if key is not None:
            keyed.add(key, enquiry, row, "key")
        drops += [
            EnquiryDrop(enquiry=enquiry, **read_columns(schema.ENQUIRY_DROP, drop))
            for drop in row.rows("drops")
        ]
    create(Enquiry, enquiries)
    create(EnquiryDrop, drops)
    return keyed
