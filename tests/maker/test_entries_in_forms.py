"""What people type is taken by the forms, and shown back so that it reads the same."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st

from maker.calc.currencies import LOCALES
from maker.web.amounts import AmountField
from maker.web.fields import (
    LengthField,
    MinutesField,
    MoneyField,
    NumberField,
    PercentField,
    WholeMinutesField,
    WholeNumberField,
    WorkshopForm,
)
from maker.workshop.models import Workshop
from tests import factories

D = Decimal


class EveryField(WorkshopForm):
    """One field of each kind."""

    length = LengthField(required=False, allow_zero=True)
    money = MoneyField(required=False, at_least=-1000)
    number = NumberField(required=False, unit="g/m²")
    share = PercentField(required=False)
    minutes = MinutesField(required=False, decimals=4)
    hours = MinutesField(required=False, unit="h", decimals=2)
    drying = WholeMinutesField(required=False)
    count = WholeNumberField(required=False)
    amount = AmountField(required=False, measure="ml", allow_zero=True)


def read(name: str, text: str, **fields: Any) -> Any:
    shop = Workshop(**{"currency": "EUR", "locale": "en_GB", "unit": "mm", **fields})
    form = EveryField({name: text}, workshop=shop)
    assert form.is_valid(), form.errors
    return form.cleaned_data[name]


@pytest.mark.parametrize(
    ("name", "text", "fields", "value"),
    [
        ("money", "9,60 €", {}, "9.60"),
        ("money", "$1,234", {"currency": "USD", "locale": "en_US"}, "1234"),
        ("money", "1.234 €", {"locale": "de_DE"}, "1234"),
        ("money", "-5 €", {}, "-5"),
        ("money", "€ −5", {}, "-5"),
        ("number", "300 g/m²", {}, "300"),
        ("share", "12,5 %", {}, "0.125"),
        ("minutes", "1h 30", {}, "90"),
        ("minutes", "45s", {}, "0.75"),
        ("minutes", "10 s", {}, "0.1667"),
        ("hours", "3:30", {}, "3.5"),
        ("hours", "3 h 20", {}, "3.33"),
        ("drying", "1 h 30 min", {}, "90"),
        ("count", "1,250", {}, "1250"),
        ("length", "1' 6\"", {}, "457.2"),
        ("length", "1.234,5", {"locale": "de_DE"}, "1234.5"),
        ("amount", "1/2 l", {}, "500"),
    ],
)
def test_a_form_reads_what_people_type(name: str, text: str, fields: Any, value: str) -> None:
    assert read(name, text, **fields) == D(value)


@pytest.mark.parametrize("name", list(EveryField.base_fields))
@pytest.mark.parametrize(
    "text", ["1e999", "-1e999", "nan", "inf", "Infinity", "9" * 400, "0x10", "1/0", "\x00", "1_0"]
)
def test_hostile_text_is_refused_beside_its_field(name: str, text: str) -> None:
    shop = Workshop(currency="EUR", locale="en_GB", unit="mm")
    form = EveryField({name: text}, workshop=shop)
    assert name in form.errors
    assert form[name].value() == text


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("unit", ["in", "mm"])
def test_what_is_shown_reads_as_what_is_stored(locale: str, unit: str) -> None:
    """A form posted as it opens changes nothing, whatever the decimal mark of the workshop."""
    shop = Workshop(currency="KWD", locale=locale, unit=unit)  # three decimals: 1.234

    @settings(max_examples=25)  # of each of nearly a hundred
    @given(st.decimals(D("0.001"), 99_999, places=3), st.decimals(0, 1, places=5))
    def try_values(value: Decimal, share: Decimal) -> None:
        stored = dict.fromkeys(("length", "money", "number", "minutes", "amount"), value)
        stored["share"] = share
        shown = EveryField(initial=stored, workshop=shop)
        sent = EveryField({name: shown[name].value() for name in stored}, workshop=shop)
        assert sent.is_valid(), sent.errors
        assert {name: sent.cleaned_data[name] for name in stored} == stored

    try_values()


def test_how_a_number_was_read_is_said_after_saving(client: Client, workshop: Workshop) -> None:
    supplier = factories.make_supplier(workshop)
    address = f"/w/marlow/suppliers/{supplier.pk}/edit/"
    form = {
        "name": "Hill & Co",
        "carriage": "4.50",
        "carriage_free_from": "1,500",
        "edit_number": 0,
    }
    response = client.post(address, form, follow=True)
    assert "“1,500” was read as 1500." in response.content.decode()
    supplier.refresh_from_db()
    assert supplier.carriage_free_from == 1500
    # nothing is said when nothing was saved, nor a second time
    again = client.get(f"/w/marlow/suppliers/{supplier.pk}/").content.decode()
    assert "was read as" not in again
    refused = client.post(address, {**form, "edit_number": 1, "name": ""}).content.decode()
    assert "was read as" not in refused
