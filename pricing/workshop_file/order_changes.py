"""Changes of orders and approvals in a workshop file. Lines of a change follow those of the quote.

The document of a change is kept as it was offered: materials in it are spoken of by name.
"""

from collections.abc import Callable, Mapping
from typing import Any

from maker.calc.strict_json import (
    Fields,
    WrongJson,
    day,
    decimal,
    list_of,
    mapping_of,
    or_none,
    record,
    text,
    whole,
)
from pricing.orders.models import Order, OrderApproval, OrderChange, OrderChangeLess
from pricing.quotes.models import QuoteLine
from pricing.workshop_file import schema
from pricing.workshop_file.frozen import sorted_keys
from pricing.workshop_file.writing import create, read_columns

Values = dict[str, Any]

_NUMBER, _COUNT = decimal(), whole(0, 2_147_483_647)
_SAID = {
    **dict.fromkeys(("design", "colourway", "description"), text),
    **dict.fromkeys(("price_each", "amount"), _NUMBER),
    **dict.fromkeys(("quantity", "names"), _COUNT),
}
_DOCUMENT = record(
    {
        **dict.fromkeys(("lines", "less"), list_of(record(_SAID))),
        **dict.fromkeys(("total_before", "total_after", "total_change"), _NUMBER),
        **dict.fromkeys(("due_before", "due_on"), or_none(day)),
        "note": text,
        "fees": list_of(record({"reason": text, "amount": _NUMBER})),
        "own": record(
            {
                "minutes": or_none(_NUMBER),
                "needs": mapping_of(_NUMBER),
                **dict.fromkeys(("earliest_before", "earliest_on"), or_none(day)),
            }
        ),
    },
    # said only where there are any
    {"fees": ()},
)
_LINE_FROZEN = record(
    {**dict.fromkeys(("price_each", "amount"), _NUMBER), "choices": list_of(text)}
)


def lines_of_order(order: Order) -> list[QuoteLine]:
    """Return the lines of the quote, then those of its changes, as a file counts them."""
    own = [line for line in order.quote.lines.all() if line.change_id is None]
    return [*own, *(line for change in order.changes.all() for line in change.lines.all())]


def change_values(
    order: Order, places: Mapping[int, int], line_values: Callable[[QuoteLine], Values]
) -> Values:
    """Return `changes` and `approvals` of an order; `places` from 1 by key of a line."""
    return {
        "changes": [
            schema.ORDER_CHANGE.written(change)
            | {
                "lines": [
                    line_values(line) | {"frozen": sorted_keys(line.frozen)}
                    for line in change.lines.all()
                ],
                "less": [
                    {"line": places[less.line_id], **schema.ORDER_CHANGE_LESS.written(less)}
                    for less in change.less.all()
                ],
                "document": sorted_keys(change.document),
            }
            for change in order.changes.all()
        ],
        "approvals": [schema.ORDER_APPROVAL.written(each) for each in order.approvals.all()],
    }


def write_changes(
    pairs: list[tuple[Fields, Order]], read_line: Callable[[Any, Fields, Fields], QuoteLine]
) -> dict[int, list[QuoteLine]]:
    """Store changes and approvals of stored orders; return the lines of each order by its key."""
    changes: list[OrderChange] = []
    lines: list[QuoteLine] = []
    less: list[tuple[OrderChange, Fields, list[QuoteLine]]] = []
    approvals: list[OrderApproval] = []
    found: dict[int, list[QuoteLine]] = {}
    for row, order in pairs:
        mine = list(order.quote.lines.kept())
        numbers: set[int] = set()
        for inner in row.rows("changes"):
            change = OrderChange(
                order=order,
                document=_document(inner),
                **read_columns(schema.ORDER_CHANGE, inner, "lines", "less", "document"),
            )
            if change.number in numbers:
                raise inner.refuse("Each change of an order has its own number.", "number")
            numbers.add(change.number)
            changes.append(change)
            for part in inner.rows("lines"):
                line = read_line(order.quote, part, inner)
                line.change = change
                frozen = part.take("frozen", Fields).values
                if frozen or change.state != OrderChange.State.DRAFT:
                    _LINE_FROZEN(frozen, part.at("frozen"))
                line.frozen = frozen
                mine.append(line)
                lines.append(line)
            less += [(change, part, mine) for part in inner.rows("less")]
        approvals += [
            OrderApproval(order=order, **read_columns(schema.ORDER_APPROVAL, inner))
            for inner in row.rows("approvals")
        ]
        if sum(each.order is order and each.is_open for each in changes) > 1:
            raise row.refuse("An order has one open change at most.", "changes")
        found[order.pk] = mine
    create(OrderChange, changes)
    create(QuoteLine, lines)
    create(
        OrderChangeLess,
        [
            OrderChangeLess(
                change=change,
                line=mine[part.take("line", whole(1, len(mine))) - 1],
                **read_columns(schema.ORDER_CHANGE_LESS, part),
            )
            for change, part, mine in less
        ],
    )
    create(OrderApproval, approvals)
    return found


def _document(row: Fields) -> Values:
    document = row.take("document", Fields).values
    if document:
        _DOCUMENT(document, row.at("document"))
    elif row.take("state", text) in (OrderChange.State.OFFERED, OrderChange.State.ACCEPTED):
        raise WrongJson("A change that was offered says what it was.", where=row.at("document"))
    return dict(document)
