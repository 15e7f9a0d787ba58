"""The text of a payment code that banking apps read.

European Payments Council, EPC069-12, Quick Response Code: Guidelines to enable data capture for
the initiation of a SEPA credit transfer. The guideline itself was not read: lines, lengths and
their order are those of its published sample and of the library segno, which the tests compare
with.
"""

from decimal import Decimal

from maker.calc.bank_numbers import is_right
from maker.calc.explanation import plain_text
from maker.calc.refusal import Refusal

LEAST, MOST = Decimal("0.01"), Decimal("999999999.99")
LONGEST_NAME, LONGEST_TEXT = 70, 140


class NoPaymentCode(Refusal):
    """A payment that has no code: another currency, no account, or an amount out of range."""


def payment_text(
    *,
    name: str,
    iban: str,
    amount: Decimal,
    bic: str = "",
    purpose: str = "",
    reference: str = "",
    text: str = "",
    info: str = "",
) -> str:
    """Return the 12 lines of a payment in euros; empty ones at the end are left out.

    `reference` is a creditor reference (ISO 11649), `text` is for people: one of the two. Without a
    BIC it is version 002, which does not ask for one. Errors: NoPaymentCode.
    """
    if not is_right(iban):
        raise NoPaymentCode("The check digits of the IBAN do not fit.")
    if not LEAST <= amount <= MOST or amount != round(amount, 2):
        raise NoPaymentCode("A payment code is for 0.01 to 999999999.99 euros.")
    if reference and text:
        raise NoPaymentCode("A payment has a reference or a text, not both.")
    lines = [
        "BCD",
        "001" if bic else "002",
        "1",  # UTF-8
        "SCT",
        bic,
        _short(name, LONGEST_NAME),
        iban,
        f"EUR{plain_text(amount, 0)}",
        purpose,
        reference,
        _short(text, LONGEST_TEXT),
        _short(info, LONGEST_NAME),
    ]
    return "\n".join(lines).rstrip("\n")


def _short(text: str, most: int) -> str:
    return " ".join(text.split())[:most].strip()
