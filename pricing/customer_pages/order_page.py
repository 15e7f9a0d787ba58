"""The part of a customer's page that is about her order: changes, the proof, the names."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from maker.calc.money import format_money
from pricing.customer_pages.forms import ApproveForm, ChangeAnswerForm, NamesForm
from pricing.customer_pages.models import QuoteLink
from pricing.customer_pages.order_answers import (
    answer_change,
    approve_by_link,
    names_by_link,
    order_of,
)
from pricing.orders.approvals import NamedLine, named_lines
from pricing.orders.change_effects import said_of
from pricing.orders.change_fees import fees_of, said_fees
from pricing.orders.drawing import item_rows
from pricing.orders.models import Order, OrderApproval, OrderChange
from pricing.orders.services import BY_HAND

CHANGE = re.compile(r"(yes|no)-([0-9]{1,9})")


@dataclass(frozen=True, slots=True)
class OrderPart:
    """An order with what its customer can answer."""

    order: Order
    changes: tuple[OrderChange, ...]
    approvals: Mapping[str, OrderApproval]
    named: tuple[NamedLine, ...]

    @property
    def is_open(self) -> bool:
        """Whether it is still made, so that something can be answered."""
        return self.order.state in BY_HAND


def order_part(link: QuoteLink) -> OrderPart | None:
    """Return the order of a link's quote, if it became one."""
    order = order_of(link)
    if order is None:
        return None
    shown = order.changes.in_order().exclude(
        state__in=[OrderChange.State.DRAFT, OrderChange.State.WITHDRAWN]
    )
    return OrderPart(
        order,
        tuple(shown),
        {each.kind: each for each in order.approvals.all()},
        tuple(named_lines(order)) if not order.names_deleted_on else (),
    )


def about_of(answer: str) -> str:
    """Return which form a button belongs to."""
    found = CHANGE.fullmatch(answer)
    return f"change-{found[2]}" if found else answer.removesuffix("-ok")


def is_of_order(about: str) -> bool:
    """Return whether a form is one of this part."""
    return about in ("proof", "names") or about.startswith("change-")


def order_forms(part: OrderPart, about: str, data: Any, known: Mapping[str, Any]) -> dict[str, Any]:
    """Return the forms of what can be answered; the one that was sent holds its data."""
    if not part.is_open:
        return {}
    forms: dict[str, Any] = {}
    for change in part.changes:
        if change.state == OrderChange.State.OFFERED:
            key = f"change-{change.pk}"
            forms[key] = ChangeAnswerForm(data if about == key else None, about=key, initial=known)
    if "proof" not in part.approvals:
        given = data if about == "proof" else None
        forms["proof"] = ApproveForm(given, about="proof", initial=known)
    if part.named and "names" not in part.approvals:
        given = data if about == "names" else None
        forms["names"] = NamesForm(given, about="names", initial=known, named=part.named)
    return forms


def answer_order(link: QuoteLink, answer: str, form: Any, today: Any) -> None:
    """Do what a button says. Refusals as the services'."""
    name = form.cleaned_data["name"]
    found = CHANGE.fullmatch(answer)
    if found:
        answer_change(
            link=link,
            change=int(found[2]),
            is_yes=found[1] == "yes",
            name=name,
            note=form.cleaned_data["note"],
            today=today,
        )
    elif answer == "proof":
        approve_by_link(link=link, kind="proof", name=name, today=today)
    else:
        names_by_link(link=link, names=form.names(), name=name, today=today)
        if answer == "names-ok":
            approve_by_link(link=link, kind="names", name=name, today=today)


def order_context(part: OrderPart | None, forms: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of the order's part of the page: nothing for the maker alone."""
    if part is None:
        return {"order_part": None}
    order = part.order
    frozen = order.quote.frozen

    def money(amount: Any) -> str:
        return format_money(Decimal(str(amount)), frozen["currency"], order.workshop.locale)

    items = [
        {key: value for key, value in row.items() if key != "line"} for row in item_rows(order)
    ]
    return {
        "order_part": {
            "number": order.number,
            "state": order.get_state_display(),
            "due_on": order.due_on,
            "is_changed": any(row["change"] for row in items) or bool(order.changes_total),
            "items": items,
            "fees": said_fees(fees_of(order), money),
            "total": money(order.total),
            "changes": [
                {
                    "key": change.pk,
                    "number": change.number,
                    "state": change.get_state_display(),
                    "said": said_of(change.document, money),
                    "form": forms.get(f"change-{change.pk}"),
                    "decided_on": change.decided_on,
                    "decided_by": change.decided_by,
                }
                for change in part.changes
                if change.document
            ],
            "proof": part.approvals.get("proof"),
            "names": part.approvals.get("names"),
            "has_names": bool(part.named),
            "named": [
                {"design": each.line.design.name, "names": each.names} for each in part.named
            ],
        }
    }
