"""The settings of a workshop, section by section."""

import re
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.test import Client

from maker.workshop.inputs import overhead_per_hour
from maker.workshop.models import OverheadItem, Workshop
from tests import factories
from tests.catalogue.page_forms import fields_of

SETTINGS = "/w/marlow/settings/"
D = Decimal
PROFILE = {"name": "Marlow Paperworks", "maker_name": "", "address": "", "email": "", "phone": ""}
COUNTING = {
    "currency": "EUR",
    "locale": "en_GB",
    "unit": "in",
    "valuation": "average",
    "offcut_value": "nothing",
    "offcut_least_mm": "2",
}
HOUR = {
    "wage_per_hour": "15",
    "overhead_basis": "hour",
    "hours_per_year": "600",
    "planned_hours_per_month": "50",
    "overhead_per_hour_stated": "0",
}
TAX = {"tax_name": "VAT", "tax_rate": "20", "prices_include_tax": "yes", "tax_rounding": "document"}
DATES = {
    "monday_minutes": "3.5",
    "tuesday_minutes": "3 1/2",
    "wednesday_minutes": "0",
    "thursday_minutes": "1 h 20",
    "friday_minutes": "3.5",
    "saturday_minutes": "0",
    "sunday_minutes": "0",
    "buffer_days": "2",
    "proof_days": "4",
    "transit_days": "3",
    "carrier_weekdays": ["5", "1", "2", "3"],
    "purchase_lead_days": "6",
    "dates-TOTAL_FORMS": "0",
    "dates-INITIAL_FORMS": "0",
}
QUOTES = {
    "quantity_steps": "1, 12, 60, 250",
    "quote_valid_days": "21",
    "quote_prefix": "Q",
    "cancel_share_before": "0",
    "cancel_share_bought": "30",
    "cancel_share_cut": "75",
    "names_kept_days": "60",
    "terms": "",
}


def rows(*entries: tuple[str, str, str]) -> dict[str, str]:
    """Return overhead rows as the page sends them: name, amount, month or year."""
    data = {"overhead-TOTAL_FORMS": str(len(entries)), "overhead-INITIAL_FORMS": "0"}
    for number, (name, amount, period) in enumerate(entries):
        data |= {
            f"overhead-{number}-name": name,
            f"overhead-{number}-amount": amount,
            f"overhead-{number}-period": period,
        }
    return data


def save(
    client: Client, section: str, data: dict[str, Any], workshop: Workshop, **more: Any
) -> Any:
    workshop.refresh_from_db()
    sent = {"edit_number": workshop.edit_number, **data, **more}
    return client.post(SETTINGS + section, sent, follow=True)


def saved(answer: Any, workshop: Workshop) -> bool:
    workshop.refresh_from_db()
    return "Saved." in answer.content.decode()


def test_the_profile_is_saved_and_the_address_of_the_workshop_stays(
    client: Client, workshop: Workshop
) -> None:
    answer = save(
        client,
        "",
        {**PROFILE, "name": " Marlow  & Daughter ", "email": "hello@example.test"},
        workshop,
    )
    assert saved(answer, workshop)
    assert (workshop.name, workshop.slug) == ("Marlow & Daughter", "marlow")
    assert "Marlow &amp; Daughter" in answer.content.decode()


def test_what_offcuts_are_worth_and_how_small_they_may_be_is_saved(
    client: Client, workshop: Workshop
) -> None:
    sent = {"offcut_value": "area", "offcut_least_mm": "2 1/2"}
    assert saved(save(client, "counting/", COUNTING | sent, workshop), workshop)
    assert (workshop.offcut_value, workshop.offcut_least_mm) == ("area", D("63.5"))
    for wrong in ({"offcut_least_mm": "-1"}, {"offcut_least_mm": "x"}, {"offcut_value": "half"}):
        answer = save(client, "counting/", COUNTING | wrong, workshop)
        assert list(answer.context["form"].errors) == list(wrong)
    workshop.refresh_from_db()
    assert workshop.offcut_value == "area"


def test_counting_is_saved(client: Client, workshop: Workshop) -> None:
    answer = save(
        client,
        "counting/",
        {**COUNTING, "currency": "KWD", "locale": "de_CH", "unit": "mm", "valuation": "fifo"},
        workshop,
    )
    assert saved(answer, workshop)
    assert workshop.currency == "KWD"
    assert (workshop.locale, workshop.unit, workshop.valuation) == ("de_CH", "mm", "fifo")


def test_currencies_are_named_with_their_own_decimals(client: Client) -> None:
    page = client.get(f"{SETTINGS}counting/").content.decode()
    # ISO 4217 minor units: EUR 2, JPY 0, KWD 3
    assert "Euro (EUR, 2 decimals)" in page
    assert "Japanese Yen (JPY, no decimals)" in page
    assert "Kuwaiti Dinar (KWD, 3 decimals)" in page
    assert "(DEM," not in page


def test_the_currency_stays_once_a_pack_has_a_price(client: Client, workshop: Workshop) -> None:
    factories.make_pack(factories.make_material(workshop))
    answer = save(client, "counting/", {**COUNTING, "currency": "GBP"}, workshop)
    page = answer.content.decode()
    assert not saved(answer, workshop)
    assert "The currency stays EUR" in page
    assert "There is a problem" in page
    assert workshop.currency == "EUR"
    # the rest of the section can still be changed
    assert saved(save(client, "counting/", {**COUNTING, "unit": "mm"}, workshop), workshop)
    assert workshop.unit == "mm"


def test_amounts_of_another_workshop_do_not_hold_mine(
    client: Client, workshop: Workshop, other_workshop: Workshop
) -> None:
    factories.make_pack(factories.make_material(other_workshop))
    factories.make_material(workshop)
    assert saved(save(client, "counting/", {**COUNTING, "currency": "GBP"}, workshop), workshop)
    assert workshop.currency == "GBP"


def test_overhead_by_the_year_worked_by_hand(client: Client, workshop: Workshop) -> None:
    # by hand: (65 + 18.50) x 12 + 138 = 1140 a year; 1140 / 600 h = 1.90; 15 + 1.90 = 16.90
    answer = save(
        client,
        "hour/",
        {
            **HOUR,
            **rows(
                ("Rent", "65", "month"), ("Power", "18,50", "month"), ("Insurance", "138", "year")
            ),
        },
        workshop,
    )
    page = answer.content.decode()
    assert saved(answer, workshop)
    assert overhead_per_hour(workshop, OverheadItem.objects.of(workshop))[0] == D("1.9")
    assert "€1,140.00 of overhead per year ÷ 600 hands-on hours per year" in page
    assert "€1.90" in page
    assert "€16.90" in page


def test_overhead_by_the_month_is_exact(client: Client, workshop: Workshop) -> None:
    # by hand: 100 a year is 100 / 12 a month, over 7 hours 100 / 84 = 1.190476 190476...
    save(
        client,
        "hour/",
        {
            **HOUR,
            "overhead_basis": "month",
            "planned_hours_per_month": "7",
            **rows(("Insurance", "100", "year")),
        },
        workshop,
    )
    workshop.refresh_from_db()
    rate, how = overhead_per_hour(workshop, OverheadItem.objects.of(workshop))
    assert str(rate).startswith("1.1904761904761904761904761904")
    assert how == "€8.33 of overhead per month ÷ 7 planned hours per month"


@pytest.mark.parametrize(
    ("typed", "hours", "shown"),
    [
        ("52 h 30", "52.5", "52.5"),
        ("52h 30min", "52.5", "52.5"),
        ("52:30", "52.5", "52.5"),
        ("90 min", "1.5", "1.5"),
        ("52.5", "52.5", "52.5"),
        ("50 h", "50", "50"),
        # a third of an hour has no end: to the hundredth, as hours of a day are kept
        ("50 h 20", "50.33", "50.33"),
    ],
)
def test_hours_are_typed_as_people_write_times(
    client: Client, workshop: Workshop, typed: str, hours: str, shown: str
) -> None:
    names = ("hours_per_year", "planned_hours_per_month")
    assert saved(
        save(client, "hour/", {**HOUR, **dict.fromkeys(names, typed), **rows()}, workshop), workshop
    )
    page = client.get(f"{SETTINGS}hour/")
    sent = fields_of(page)
    for name in names:
        assert getattr(workshop, name) == D(hours)
        assert sent[name] == shown
    client.post(f"{SETTINGS}hour/", sent)
    workshop.refresh_from_db()
    assert [getattr(workshop, name) for name in names] == [D(hours)] * 2


def test_hours_that_are_no_time_are_refused_as_typed(client: Client, workshop: Workshop) -> None:
    answer = save(client, "hour/", {**HOUR, "hours_per_year": "a lot", **rows()}, workshop)
    page = unescape(answer.content.decode())
    assert "“a lot” isn't a time. Enter one like 3.5, 3 h 30 or 3:30." in page
    assert 'value="a lot"' in page
    answer = save(client, "hour/", {**HOUR, "hours_per_year": "9000 h", **rows()}, workshop)
    assert "The most is" in answer.content.decode()


def test_a_stated_rate_is_taken_as_it_is(client: Client, workshop: Workshop) -> None:
    data = {**HOUR, "overhead_basis": "stated", "overhead_per_hour_stated": "4.205"}
    # hours do not matter then, so none are asked for
    answer = save(
        client, "hour/", {**data, "hours_per_year": "0", **rows(("Rent", "65", "month"))}, workshop
    )
    assert saved(answer, workshop)
    rate, how = overhead_per_hour(workshop, OverheadItem.objects.of(workshop))
    assert (rate, how) == (D("4.205"), "your own rate")


def test_overhead_without_hours_is_refused_and_nothing_is_half_saved(
    client: Client, workshop: Workshop
) -> None:
    answer = save(
        client,
        "hour/",
        {**HOUR, "wage_per_hour": "99", "hours_per_year": "0", **rows(("Rent", "65", "month"))},
        workshop,
    )
    page = answer.content.decode()
    assert not saved(answer, workshop)
    assert "be shared over 0 hours" in page
    assert 'href="#id_hours_per_year"' in page
    assert 'value="Rent"' in page
    assert workshop.wage_per_hour == D("15")
    assert workshop.edit_number == 0
    assert not OverheadItem.objects.exists()


def test_a_workshop_that_came_without_hours_still_opens(client: Client, workshop: Workshop) -> None:
    Workshop.objects.filter(pk=workshop.pk).update(overhead_basis="hour", hours_per_year=0)
    OverheadItem.objects.create(workshop=workshop, name="Rent", amount=D(5))
    page = client.get(f"{SETTINGS}hour/").content.decode()
    assert "be shared over 0 hours" in page


def test_rows_are_changed_removed_and_left_empty(client: Client, workshop: Workshop) -> None:
    save(
        client,
        "hour/",
        {**HOUR, **rows(("Rent", "65", "month"), ("Power", "20", "month"))},
        workshop,
    )
    data = {**HOUR, **rows(("Rent", "70", "month"), ("Power", "20", "month"), ("", "", "month"))}
    answer = save(client, "hour/", data, workshop, **{"overhead-1-DELETE": "on"})
    assert saved(answer, workshop)
    assert list(OverheadItem.objects.of(workshop).values_list("name", "amount")) == [
        ("Rent", D(70))
    ]


def test_tax_is_saved_as_a_share(client: Client, workshop: Workshop) -> None:
    answer = save(
        client,
        "tax/",
        {
            **TAX,
            "tax_registered": "on",
            "tax_rate": "8,1",
            "prices_include_tax": "no",
            "tax_rounding": "line",
        },
        workshop,
    )
    assert saved(answer, workshop)
    assert (workshop.tax_registered, workshop.tax_rate) == (True, D("0.081"))
    assert (workshop.prices_include_tax, workshop.tax_rounding) == (False, "line")
    page = client.get(f"{SETTINGS}tax/").content.decode()
    assert 'value="8.1"' in page


def test_a_registered_workshop_names_its_tax(client: Client, workshop: Workshop) -> None:
    answer = save(client, "tax/", {**TAX, "tax_registered": "on", "tax_name": " "}, workshop)
    assert "Enter the name printed on documents, like VAT." in answer.content.decode()


def test_terms_and_what_quotes_say_are_saved(client: Client, workshop: Workshop) -> None:
    entry = {**QUOTES, "terms": "Half in advance."}
    assert saved(save(client, "quotes/", entry, workshop), workshop)
    assert workshop.terms == "Half in advance."


def test_quantities_side_by_side_are_kept_in_order_and_once(
    client: Client, workshop: Workshop
) -> None:
    entry = {**QUOTES, "quantity_steps": "60; 1 12,12", "quote_prefix": ""}
    assert saved(save(client, "quotes/", entry, workshop), workshop)
    assert workshop.quantity_steps == "1, 12, 60"
    assert workshop.quote_prefix == ""


@pytest.mark.parametrize(
    ("section", "data", "field", "typed", "why"),
    [
        ("", PROFILE, "name", "", "Fill this in."),
        ("", PROFILE, "name", "n" * 10_000, "at most 120"),
        ("", PROFILE, "email", "nobody", "valid email"),
        ("", PROFILE, "email", "a@example.test\x00", "ull characters"),
        ("", PROFILE, "address", "x" * 10_000, "at most 500"),
        ("counting/", COUNTING, "currency", "XXX", "not one of the available choices"),
        ("counting/", COUNTING, "currency", "E\x00R", "not one of the available choices"),
        ("counting/", COUNTING, "locale", "../../etc", "not one of the available choices"),
        ("hour/", {**HOUR, **rows()}, "wage_per_hour", "-1", "The least is 0."),
        (
            "hour/",
            {**HOUR, **rows()},
            "wage_per_hour",
            "$15.00",
            "isn't in EUR, this workshop's currency",
        ),
        ("hour/", {**HOUR, **rows()}, "wage_per_hour", "much", "an amount of money. Enter one"),
        ("hour/", {**HOUR, **rows()}, "wage_per_hour", "9" * 10_000, ""),
        ("hour/", {**HOUR, **rows()}, "wage_per_hour", "1e5", "a number we can read"),
        ("hour/", {**HOUR, **rows()}, "wage_per_hour", "NaN", "an amount of money. Enter one"),
        ("hour/", {**HOUR, **rows()}, "hours_per_year", "9000", "The most is 8784."),
        ("hour/", {**HOUR, **rows()}, "planned_hours_per_month", "745", "The most is 744."),
        ("tax/", TAX, "tax_rate", "101", "The most is 100."),
        ("tax/", TAX, "tax_rate", "<script>", "a number. Enter one"),
        ("dates/", DATES, "monday_minutes", "25", "The most is 24."),
        ("dates/", DATES, "monday_minutes", "-1", "The least is 0."),
        ("dates/", DATES, "monday_minutes", "soon", "isn't a time. Enter one"),
        ("dates/", DATES, "sunday_minutes", "", "Fill this in."),
        ("dates/", DATES, "carrier_weekdays", [], "Tick at least one day."),
        ("dates/", DATES, "carrier_weekdays", ["8"], "not one of the available choices"),
        ("dates/", DATES, "purchase_lead_days", "1.5", "a whole number. Enter one"),
        ("dates/", DATES, "buffer_days", "61", "The most is 60."),
        ("dates/", DATES, "proof_days", "x" * 10_000, ""),
        ("quotes/", QUOTES, "quantity_steps", "", "Fill this in."),
        ("quotes/", QUOTES, "quantity_steps", "a dozen", "Enter whole numbers"),
        ("quotes/", QUOTES, "quantity_steps", "0, 12", "Enter whole numbers"),
        ("quotes/", QUOTES, "quantity_steps", "1000001", "Enter whole numbers"),
        ("quotes/", QUOTES, "quantity_steps", "1 2 3 4 5 6 7 8 9", "No more than 8"),
        ("quotes/", QUOTES, "quote_valid_days", "366", "The most is 365."),
        ("quotes/", QUOTES, "quote_prefix", "Q?", "Use letters, digits"),
        ("quotes/", QUOTES, "quote_prefix", "Q" * 11, "at most 10"),
        ("quotes/", QUOTES, "terms", "t" * 20_001, "at most 20000"),
    ],
)
def test_a_wrong_entry_is_kept_and_explained(
    client: Client,
    workshop: Workshop,
    section: str,
    data: dict[str, Any],
    field: str,
    typed: Any,
    why: str,
) -> None:
    answer = save(client, section, {**data, field: typed}, workshop)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert not saved(answer, workshop)
    assert "There is a problem" in page
    assert "Error: " in page
    assert why in unescape(page)
    assert workshop.edit_number == 0
    if isinstance(typed, str) and typed.isalnum() and field not in ("currency", "locale"):
        assert typed in page
    assert "<script>" not in page.split("<main")[1].split("</main")[0]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("", "65", "month"), "Cost"),
        (("Rent", "", "month"), "Amount"),
        (("Rent", "-5", "month"), "The least is 0."),
        (("Rent", "65", "week"), "not one of the available choices"),
        (("n" * 10_000, "65", "month"), "at most 80"),
    ],
)
def test_a_wrong_row_is_kept_and_explained(
    client: Client, workshop: Workshop, row: tuple[str, str, str], why: str
) -> None:
    answer = save(client, "hour/", {**HOUR, **rows(("Power", "20", "month"), row)}, workshop)
    page = answer.content.decode()
    assert not saved(answer, workshop)
    assert "Row 2" in page
    assert why in unescape(page)
    assert 'value="Power"' in page
    assert not OverheadItem.objects.exists()


def test_rows_without_their_counter_are_refused(client: Client, workshop: Workshop) -> None:
    answer = save(client, "hour/", HOUR, workshop)
    assert "arrive, so nothing was saved" in answer.content.decode()


def test_html_stays_text(client: Client, workshop: Workshop) -> None:
    save(client, "", {**PROFILE, "name": "<img src=x onerror=alert(1)>"}, workshop)
    page = client.get("/w/marlow/").content.decode()
    assert "<img src=x" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


def test_the_second_of_two_people_is_told_and_loses_nothing(
    client: Client, workshop: Workshop
) -> None:
    opened_with = workshop.edit_number
    first = {**HOUR, "wage_per_hour": "16", **rows(("Rent", "65", "month"))}
    save(client, "hour/", first, workshop)
    second = {
        **HOUR,
        "wage_per_hour": "18",
        **rows(("Power", "20", "month"), ("", "", "month")),
        "edit_number": opened_with,
    }
    answer = client.post(f"{SETTINGS}hour/", second)
    page = answer.content.decode()
    workshop.refresh_from_db()
    assert workshop.wage_per_hour == D(16)
    assert "Somebody else saved this" in page
    # both values stand side by side, hers is still in the field
    assert re.search(r"<td>18</td><td>16(\.00)?</td>", page)
    assert re.search(
        r"<td>Cost Power, Amount 20, Paid per month</td>"
        r"<td>Cost Rent, Amount 65(\.00)?, Paid per month</td>",
        page,
    )
    assert 'name="wage_per_hour" value="18"' in page
    assert 'value="Power"' in page
    # and saving again keeps hers knowingly
    answer = client.post(f"{SETTINGS}hour/", {**second, "edit_number": workshop.edit_number})
    assert answer.status_code == 302
    workshop.refresh_from_db()
    assert workshop.wage_per_hour == D(18)
    assert list(OverheadItem.objects.of(workshop).values_list("name", flat=True)) == ["Power"]


@pytest.mark.parametrize("number", ["", "-1", "x", "99999999999999999999"])
def test_an_odd_edit_number_saves_nothing(client: Client, workshop: Workshop, number: str) -> None:
    answer = client.post(f"{SETTINGS}tax/", {**TAX, "edit_number": number})
    assert answer.status_code == 422
    workshop.refresh_from_db()
    assert workshop.tax_rate == 0
    assert "There is a problem" in answer.content.decode()


@pytest.mark.parametrize("section", ["", "counting/", "hour/", "tax/", "dates/", "quotes/"])
def test_only_owners_open_the_settings(
    section: str,
    client: Client,
    helper_client: Client,
    reader_client: Client,
    stranger_client: Client,
    anonymous_client: Client,
) -> None:
    address = SETTINGS + section
    assert client.get(address).status_code == 200
    for browser, status in (
        (helper_client, 403),
        (reader_client, 403),
        (stranger_client, 404),
        (anonymous_client, 302),
    ):
        assert browser.get(address).status_code == status
        assert browser.post(address, {"name": "Mine now"}).status_code == status


def test_a_helper_sees_no_way_into_the_settings(client: Client, helper_client: Client) -> None:
    assert SETTINGS in client.get("/w/marlow/").content.decode()
    assert SETTINGS not in helper_client.get("/w/marlow/").content.decode()
