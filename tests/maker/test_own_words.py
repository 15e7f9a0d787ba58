"""Words that anybody who knows the workshop would try first are no password."""

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from maker.accounts.models import User
from maker.workshop.models import Workshop


@pytest.mark.parametrize("password", ["Marlow-2026", "marlow!marlow", "workshop1234"])
def test_words_of_the_workshop_alone_are_refused(
    owner: User, workshop: Workshop, password: str
) -> None:
    assert "marlow" in workshop.name.lower()
    with pytest.raises(ValidationError, match="Anyone who knows the workshop"):
        validate_password(password, owner)


def test_with_words_of_ones_own_they_will_do(owner: User) -> None:
    validate_password("marlow-kestrel-9-umbrella", owner)
