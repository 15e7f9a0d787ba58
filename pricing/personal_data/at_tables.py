"""A customer in what happened at fairs' tables, found also where nothing links the two."""

import json
import re
from collections.abc import Iterable

from django.db.models import Q

from pricing.customers.models import Customer
from pricing.fairs.models import FairSale

# an escape of JSON, as `reading.text_of` writes every letter that is not ASCII
_ESCAPE = re.compile(r"\\(?:u([0-9a-fA-F]{4})|(.))", re.DOTALL)


def erase_at_tables(customer: Customer, erased: str) -> None:
    """Write `erased` instead of a customer in notes of fairs, and delete what was sent of them.

    What could not be booked became no enquiry: only its own words say whose it is. What names
    somebody else as its customer stays. The customer still bears the old name.
    """
    sales = FairSale.objects.of(customer.workshop)
    linked = Q(enquiry__customer=customer) | Q(order__quote__customer=customer)
    own = set(sales.filter(linked).values_list("pk", flat=True))
    said = sales.exclude(note="", sent_text="", discount_reason="")
    names = _Names((customer.name, customer.contact, customer.email, customer.phone))
    said = said.filter(Q(enquiry=None, order=None) | Q(pk__in=own)).order_by("pk")
    for row in said.select_for_update(of=("self",)):
        if row.pk not in own and not names.own(row):
            continue
        if names.inside(row.discount_reason):
            row.discount_reason = erased
        row.note, row.sent_text = erased if row.note or row.sent_text else "", ""
        row.save(update_fields=["note", "sent_text", "discount_reason"])


class _Names:
    """What a customer is known by, in any case and spacing."""

    def __init__(self, names: Iterable[str]) -> None:
        words = [name.split() for name in names if name.strip()]
        self._known = {_plain(" ".join(each)) for each in words}
        either = "|".join(r"\s+".join(map(re.escape, each)) for each in words)
        self._pattern = re.compile(rf"(?<!\w)(?:{either})(?!\w)", re.IGNORECASE)

    def inside(self, text: str) -> bool:
        """Whether a text names the customer."""
        return bool(self._pattern.search(text))

    def own(self, row: FairSale) -> bool:
        """Whether what happened names the customer, and nobody else as who ordered it."""
        texts = (row.note, row.discount_reason, _unescaped(row.sent_text))
        who = _plain(_who(row))
        return any(map(self.inside, texts)) and (not who or who in self._known)


def _who(row: FairSale) -> str:
    """Return who ordered, as far as it can be read: what was sent, or “Ottoline: 40 bags”."""
    try:
        sent = json.loads(row.sent_text)
    except ValueError:
        sent = None
    fields = sent if isinstance(sent, dict) else {}
    is_order = FairSale.Kind.ORDER in (row.kind, fields.get("kind"))
    who, colon, _ = str(row.note or fields.get("note", "")).partition(":")
    return str(fields.get("customer") or (who if is_order and colon else ""))


def _unescaped(text: str) -> str:
    """Return JSON text as people read it, also where it was cut off."""

    def read(found: re.Match[str]) -> str:
        return chr(int(found[1], 16)) if found[1] else str(found[2])

    letters = _ESCAPE.sub(read, text)
    # letters of two halves, a half alone as a question mark
    return letters.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()
