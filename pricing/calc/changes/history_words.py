"""Why a price changed, in groups a customer may hear: nothing of wage, overhead, margin or fees.

The changes of the groups add up to the change of the price, as the steps of the price history do.
"""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc.money import with_working_precision
from pricing.calc.changes.history import History

ZERO = Decimal(0)
# the beginning of a step's key -> the group it is told in; all others are told as the rest
_GROUP_OF = {
    "pieces": "quantity",
    "quantity": "quantity",
    "buyers": "quantity",
    "options": "options",
    "price": "materials",
    "use": "use",
    "packing": "use",
    "wear": "use",
    "minutes": "handwork",
    "rush": "rush",
    "tax": "tax",
    "tax_on_top": "tax",
    "delivery": "delivery",
    "rounding": "set",
}
_ORDER = (
    *(
        "quantity",
        "options",
        "materials",
        "use",
        "handwork",
        "rush",
        "tax",
        "delivery",
        "rest",
        "set",
    ),
)
# group -> what is said when it makes the price higher, and when lower
_WORDS = {
    "quantity": ("a smaller number costs more each", "a larger number costs less each"),
    "options": ("you chose other options", "you chose other options"),
    "materials": ("paper and other materials cost more", "paper and other materials cost less"),
    "use": ("each one uses more material", "each one uses less material"),
    "handwork": ("there is more handwork in each one", "there is less handwork in each one"),
    "rush": ("it is a rush order", "it is not a rush order"),
    "tax": ("tax is higher", "tax is lower"),
    "delivery": ("delivery costs more", "delivery costs less"),
    "set": ("the price was rounded", "the price was rounded"),
    "rest": ("running the workshop costs more", "running the workshop costs less"),
}


@dataclass(frozen=True, slots=True)
class Cause:
    """One group of steps as a customer hears it; `named` are the materials in it."""

    key: str
    words: str
    change: Decimal
    named: tuple[str, ...] = ()


@with_working_precision
def causes_for_a_customer(history: History) -> tuple[Cause, ...]:
    """Return the groups that changed the price, in the order they are told.

    Two steps that were taken as one belong to the first. Groups that cancel out are left out.
    """
    changes: dict[str, Decimal] = {}
    names: dict[str, list[str]] = {}
    for step in history.steps:
        group = _GROUP_OF.get(step.key.split("+")[0].split(".")[0], "rest")
        changes[group] = changes.get(group, ZERO) + step.change
        if group == "materials":
            names.setdefault(group, []).append(step.label.removeprefix("price of "))
    return tuple(
        Cause(
            group,
            _WORDS[group][0 if changes[group] > 0 else 1],
            changes[group],
            tuple(names.get(group, ())),
        )
        for group in _ORDER
        if changes.get(group)
    )
