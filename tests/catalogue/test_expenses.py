"""Expenses: kept, repeated by themselves, deleted with a way back, in the workshop file."""

import datetime
from dataclasses import replace
from decimal import Decimal as D

import pytest

from catalogue.calc.supplies.repeating import Paid, borne_in, dates_due, left_of
from catalogue.expenses.models import Expense
from catalogue.expenses.services import (
    ExpenseInput,
    WrongExpense,
    add_expense,
    change_expense,
    delete_expense,
    repeat_expenses,
    restore_expense,
)
from pricing.workshop_file.services import export_workshop, import_workshop

DAY = datetime.date


def month(year: int, number: int) -> datetime.date:
    return DAY(year, number, 1)


def test_a_month_that_is_too_short_takes_its_last_day():
    dates = list(dates_due(DAY(2026, 1, 31), "month", DAY(2026, 4, 30)))
    assert dates == [DAY(2026, 2, 28), DAY(2026, 3, 31), DAY(2026, 4, 30)]


def test_a_leap_day_comes_back_in_a_leap_year():
    dates = list(dates_due(DAY(2024, 2, 29), "year", DAY(2028, 2, 29)))
    assert dates == [DAY(2025, 2, 28), DAY(2026, 2, 28), DAY(2027, 2, 28), DAY(2028, 2, 29)]


def test_a_tool_is_borne_in_equal_parts_by_its_years_and_to_the_cent():
    # 240.00 over 2 years is 10.00 a month (straight line)
    tool = Paid(DAY(2025, 10, 20), D("240"), 2)
    assert borne_in(tool, month(2025, 1), month(2025, 12)) == D("30")
    assert borne_in(tool, month(2026, 1), month(2026, 12)) == D("120")
    assert borne_in(tool, month(2027, 1), month(2027, 12)) == D("90")
    assert borne_in(tool, month(2028, 1), month(2028, 12)) == 0
    assert left_of(tool, month(2026, 12)) == D("90")


@pytest.mark.django_db
def test_a_repeating_expense_is_added_by_itself_once(workshop):
    typed = ExpenseInput(DAY(2026, 1, 31), "Layout software", D("9.99"), repeats="month")
    add_expense(workshop=workshop, expense=typed, today=DAY(2026, 3, 1))
    repeat_expenses(workshop=workshop, today=DAY(2026, 3, 1))
    rows = Expense.objects.of(workshop).order_by("paid_on")
    assert [row.paid_on for row in rows] == [DAY(2026, 1, 31), DAY(2026, 2, 28)]
    # dearer from now on, and one that never happened
    second = rows[1]
    change_expense(
        row=second,
        expense=ExpenseInput(DAY(2026, 3, 2), "Layout software", D("12")),
        today=DAY(2026, 3, 2),
        edit_number=second.edit_number,
    )
    made = repeat_expenses(workshop=workshop, today=DAY(2026, 3, 31))
    assert [(row.paid_on, row.cost) for row in made] == [(DAY(2026, 3, 31), D("12"))]
    delete_expense(row=made[0])
    assert repeat_expenses(workshop=workshop, today=DAY(2026, 3, 31)) == []
    restore_expense(row=made[0])
    assert Expense.objects.of(workshop).counted().count() == 3


@pytest.mark.django_db
@pytest.mark.parametrize("purpose", ["order", "fair"])
def test_what_one_order_or_fair_took_stays_overhead_in_the_months_after(workshop, purpose):
    typed = ExpenseInput(DAY(2026, 1, 5), "Van hire", D("62"), repeats="month")
    add_expense(workshop=workshop, expense=typed, today=DAY(2026, 2, 5))
    second = Expense.objects.get(paid_on=DAY(2026, 2, 5))
    for_one = replace(typed, paid_on=second.paid_on, net=D("70"), repeats="", purpose=purpose)
    change_expense(row=second, expense=for_one, today=DAY(2026, 2, 6), edit_number=0)
    (third,) = repeat_expenses(workshop=workshop, today=DAY(2026, 3, 5))
    assert (third.purpose, third.net) == ("overhead", D("70"))


@pytest.mark.django_db
def test_tax_that_is_paid_back_is_no_cost(workshop):
    typed = ExpenseInput(DAY(2026, 1, 5), "Van hire", D("40"), D("8"))
    kept = add_expense(workshop=workshop, expense=typed, today=DAY(2026, 1, 5))
    assert kept.cost == D("48")
    workshop.tax_registered = True
    workshop.save()
    kept = add_expense(workshop=workshop, expense=typed, today=DAY(2026, 1, 5))
    assert kept.cost == D("40")


@pytest.mark.django_db
def test_registering_for_tax_changes_what_comes_after_and_nothing_before(workshop):
    typed = ExpenseInput(DAY(2026, 1, 5), "Phone", D("40"), D("8"), repeats="month")
    kept = add_expense(workshop=workshop, expense=typed, today=DAY(2026, 1, 5))
    workshop.tax_registered = True
    workshop.save()
    noted = replace(typed, notes="shared with home")
    kept = change_expense(
        row=kept, expense=noted, today=DAY(2026, 1, 9), edit_number=kept.edit_number
    )
    assert (kept.cost, kept.tax_is_recoverable, kept.notes) == (D(48), False, "shared with home")
    (second,) = repeat_expenses(workshop=workshop, today=DAY(2026, 2, 5))
    assert (second.cost, second.tax_is_recoverable) == (D(40), True)
    kept = change_expense(
        row=kept,
        expense=replace(noted, net=D("50"), tax_paid=D("10")),
        today=DAY(2026, 2, 5),
        edit_number=kept.edit_number,
    )
    assert (kept.cost, kept.tax_is_recoverable) == (D(50), True)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("typed", "where"),
    [
        (ExpenseInput(DAY(2026, 1, 9), "Van", D("40")), "paid_on"),
        (ExpenseInput(DAY(2026, 1, 5), "Van", D("40.005")), "net"),
        (ExpenseInput(DAY(2026, 1, 5), "Van", D("-40"), D("8")), "tax_paid"),
        (
            ExpenseInput(
                DAY(2026, 1, 5), "Van", D("4"), repeats="year", repeats_until=DAY(2025, 1, 1)
            ),
            "repeats_until",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused_at_its_field(workshop, typed, where):
    with pytest.raises(WrongExpense) as refused:
        add_expense(workshop=workshop, expense=typed, today=DAY(2026, 1, 5))
    assert refused.value.where == where
    assert not Expense.objects.exists()


@pytest.mark.django_db
def test_the_workshop_file_brings_expenses_back(workshop):
    typed = ExpenseInput(DAY(2026, 1, 31), "Insurance", D("120"), repeats="month")
    add_expense(workshop=workshop, expense=typed, today=DAY(2026, 3, 1))
    back = ExpenseInput(DAY(2026, 2, 1), "Insurance, paid back", D("-20"))
    add_expense(workshop=workshop, expense=back, today=DAY(2026, 3, 1))
    document = export_workshop(workshop)
    copy = import_workshop(document, name="Copy")
    assert export_workshop(copy)["expenses"] == document["expenses"]
    assert len(document["expenses"]) == 3
    assert repeat_expenses(workshop=copy, today=DAY(2026, 3, 1)) == []
