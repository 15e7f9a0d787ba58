"""What a letter says: its text with what differs put in. Nothing is sent from here."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction

from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.letters.models import Letter

Kind = Letter.Kind
PLACEHOLDER = re.compile(r"\{([^{}\n]{0,40})\}")


class BadLetter(Refusal):
    """A text with a placeholder that is not known, or without one it needs."""


@dataclass(frozen=True, slots=True)
class LetterKind:
    """A kind of letter: its text of the program, what may stand in it, and what must."""

    subject: str
    text: str
    placeholders: Mapping[str, str]
    needed: tuple[str, ...] = ()


_ALWAYS = {
    "customer": "Name of the person or customer",
    "title": "What the quote is about",
    "maker": "Your name and your workshop’s",
}
_LINK = {"link": "Address of their page", "until": "Last day the link opens"}

KINDS = {
    Kind.QUOTE: LetterKind(
        "Quote {quote} from {workshop}",
        """Hello {customer},

here is quote {quote}. You can read it, ask a question, and accept or decline it here:

{link}

The link works until {until}. It is meant for you: whoever has it can answer the quote.

{maker}
""",
        {**_ALWAYS, **_LINK, "quote": "Number of the quote", "workshop": "Name of your workshop"},
        ("link",),
    ),
    Kind.ORDER: LetterKind(
        "Your order {order} at {workshop}",
        """Hello {customer},

here is your order {order}. You can check the proof and the names, answer a change, and ask:

{link}

The link works until {until}. It is meant for you: whoever has it can answer for you.

{maker}
""",
        {**_ALWAYS, **_LINK, "order": "Number of the order", "workshop": "Name of your workshop"},
        ("link",),
    ),
    Kind.REMINDER: LetterKind(
        "Invoice {invoice} of {workshop}",
        """Hello {customer},

invoice {invoice} was due on {due}, and {amount} is still open. Perhaps it was overlooked.

{account}

If you have paid already, please ignore this message.

{maker}
""",
        {
            **_ALWAYS,
            "invoice": "Number of the invoice",
            "order": "Number of the order",
            "amount": "What is still open",
            "due": "When it was due",
            "account": "Your bank account",
            "workshop": "Name of your workshop",
        },
        ("invoice", "amount"),
    ),
}


def letter_of(workshop: Workshop, kind: Letter.Kind) -> tuple[str, str]:
    """Return subject and text of a kind, with placeholders (one query)."""
    row = Letter.objects.of(workshop).filter(kind=kind).first()
    known = KINDS[kind]
    return (row.subject, row.text) if row else (known.subject, known.text)


def fill(text: str, values: Mapping[str, str]) -> str:
    """Put values into a text; what has none stays as it is."""
    return PLACEHOLDER.sub(lambda found: values.get(found[1], found[0]), text)


def write_letter(
    workshop: Workshop, kind: Letter.Kind, values: Mapping[str, str]
) -> dict[str, str]:
    """Return `subject` and `text` of a letter with everything put in (one query)."""
    shared = {
        "workshop": workshop.name,
        "maker": "\n".join(filter(None, (workshop.maker_name, workshop.name))),
    }
    subject, text = letter_of(workshop, kind)
    return {
        "subject": " ".join(fill(subject, shared | dict(values)).split())[:200],
        "text": fill(text, shared | dict(values)),
    }


def check_letter(kind: Letter.Kind, subject: str, text: str) -> None:
    """Refuse unknown and missing placeholders. Refusals: BadLetter."""
    known = KINDS[kind]
    for field, said in (("subject", subject), ("text", text)):
        for name in PLACEHOLDER.findall(said):
            if name not in known.placeholders:
                allowed = ", ".join(f"{{{each}}}" for each in known.placeholders)
                raise BadLetter(f"{{{name}}} is not known here. Use {allowed}.", where=field)
    for name in known.needed:
        if f"{{{name}}}" not in text:
            raise BadLetter(f"Put {{{name}}} into the message.", where="text")


@transaction.atomic
def save_letter(*, workshop: Workshop, kind: Letter.Kind, subject: str, text: str) -> None:
    """Keep a text, unless it is the program's own. Refusals: BadLetter."""
    check_letter(kind, subject, text)
    known = KINDS[kind]
    # pages send other line ends than stand here, and none at the end
    lines, own = (each.strip().splitlines() for each in (text, known.text))
    if subject == known.subject and lines == own:
        reset_letter(workshop=workshop, kind=kind)
        return
    Letter.objects.update_or_create(
        workshop=workshop, kind=kind, defaults={"subject": subject, "text": text}
    )


def reset_letter(*, workshop: Workshop, kind: Letter.Kind) -> None:
    """Go back to the text of the program."""
    Letter.objects.of(workshop).filter(kind=kind).delete()
