"""Numbers of bank accounts and of payments, with their check digits.

ISO 13616 (IBAN) and ISO 11649 (creditor reference) both move the first four signs to the end,
read letters as 10 to 35 and ask for a remainder of 1 by 97 (ISO 7064, MOD 97-10).
"""

import re

from maker.calc.refusal import Refusal

# RF is not a country: it begins a creditor reference
_IBAN = re.compile(r"(?!RF)[A-Z]{2}[0-9]{2}[A-Z0-9]{11,30}", re.ASCII)
_BIC = re.compile(r"[A-Z]{4}[A-Z]{2}[A-Z0-9]{2}(?:[A-Z0-9]{3})?", re.ASCII)
_REFERENCE = re.compile(r"RF[0-9]{2}[A-Z0-9]{1,21}", re.ASCII)
LONGEST_REFERENCE = 21


class BadBankNumber(Refusal):
    """A number of a bank account that cannot be one."""


def _as_number(text: str) -> int:
    return int("".join(str(int(sign, 36)) for sign in text))


def is_right(number: str) -> bool:
    """Whether the check digits of an IBAN or a creditor reference fit, written without spaces."""
    known = _IBAN.fullmatch(number) or _REFERENCE.fullmatch(number)
    return bool(known) and _as_number(number[4:] + number[:4]) % 97 == 1


def read_iban(text: str) -> str:
    """Return an IBAN as it is stored: capitals, no spaces. Errors: BadBankNumber."""
    iban = "".join(text.split()).upper()
    if not _IBAN.fullmatch(iban):
        raise BadBankNumber("Enter an IBAN, like BE72 0000 0000 1616.", where="iban")
    if not is_right(iban):
        raise BadBankNumber(
            "This IBAN has a mistake: its check digits do not fit. Compare it with your bank’s.",
            where="iban",
        )
    return iban


def read_bic(text: str) -> str:
    """Return a BIC as it is stored (ISO 9362). Errors: BadBankNumber."""
    bic = "".join(text.split()).upper()
    if not _BIC.fullmatch(bic):
        raise BadBankNumber("Enter a BIC of 8 or 11 letters and digits.", where="bic")
    return bic


def in_fours(number: str) -> str:
    """Return a number in groups of four, as people read and type it."""
    return " ".join(number[start : start + 4] for start in range(0, len(number), 4))


def creditor_reference(text: str) -> str:
    """Return the creditor reference of an invoice's number; empty where it holds too much.

    Only letters and digits count.
    """
    raw = "".join(sign for sign in text.upper() if sign.isascii() and sign.isalnum())
    if not 1 <= len(raw) <= LONGEST_REFERENCE:
        return ""
    return f"RF{98 - _as_number(f'{raw}RF00') % 97:02}{raw}"
