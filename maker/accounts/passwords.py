"""Refuses passwords made of words that anybody who knows the workshop would try."""

import re
from typing import Any

from django.core.exceptions import ValidationError

# the program, its trade, and what it is opened by (OWASP ASVS 5.0, 6.1.2)
WORDS = (
    "pleatandpenny",
    "pleat",
    "penny",
    "workshop",
    "packaging",
    "giftbag",
    "paper",
    "ribbon",
    "password",
    "welcome",
)
OTHER_LETTERS = 4
SHORTEST_NAME = 4


class OwnWordsValidator:
    """Wants four letters that are neither of these words nor of a name of one's own workshops."""

    def validate(self, password: str, user: Any = None) -> None:
        """Refuse what is nothing but such words, figures and signs."""
        letters = _letters(password)
        found = False
        for word in sorted({*WORDS, *_names(user)}, key=len, reverse=True):
            found = found or word in letters
            letters = letters.replace(word, "")
        if found and len(letters) < OTHER_LETTERS:
            raise ValidationError(
                "Anyone who knows the workshop would try these words first.",
                code="password_of_own_words",
            )

    def get_help_text(self) -> str:
        """Say what is wanted."""
        return "Don't use only words from the workshop."


def _names(user: Any) -> list[str]:
    if user is None or user.pk is None:
        return []
    names = user.memberships.values_list("workshop__name", flat=True)
    words = [_letters(part) for name in names for part in (name, *name.split())]
    return [word for word in words if len(word) >= SHORTEST_NAME]


def _letters(text: str) -> str:
    return re.sub(r"[\W\d_]", "", text.lower())
