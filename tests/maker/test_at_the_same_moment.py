"""Two people, or two clicks, at the same moment."""

from decimal import Decimal

import pytest

from maker.accounts.models import Membership, User
from maker.accounts.services import remove_person
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from maker.workshop.services import open_workshop, save_settings
from tests import factories
from tests.at_once import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_two_owners_who_leave_at_once_leave_one_behind() -> None:
    workshop = factories.make_workshop()
    for _ in range(5):
        Membership.objects.all().delete()
        for _ in range(2):
            factories.make_member(workshop, "owner")
        pair = list(Membership.objects.filter(workshop=workshop))
        results = at_once(*(lambda one=one: remove_person(membership=one) for one in pair))
        assert sum(isinstance(result, Refusal) for result in results) == 1
        assert Membership.objects.filter(workshop=workshop, role="owner").count() == 1


def test_a_double_click_opens_one_workshop() -> None:
    owner = factories.make_user()

    def click() -> Workshop:
        return open_workshop(
            owner=User.objects.get(pk=owner.pk),
            name="Second Bench",
            currency="EUR",
            unit="mm",
            wage_per_hour=Decimal(12),
        )

    results = at_once(*[click] * 4)
    assert {type(result) for result in results} == {Workshop}
    assert Workshop.objects.count() == 1
    assert Membership.objects.count() == 1


def test_four_people_of_one_name_get_four_addresses() -> None:
    people = [factories.make_user() for _ in range(4)]

    def open_one(owner: User) -> Workshop:
        return open_workshop(
            owner=owner, name="Bench", currency="EUR", unit="mm", wage_per_hour=Decimal(12)
        )

    at_once(*(lambda one=one: open_one(one) for one in people))
    slugs = sorted(Workshop.objects.values_list("slug", flat=True))
    assert slugs == ["bench", "bench-2", "bench-3", "bench-4"]


def test_of_two_who_save_at_once_one_is_told() -> None:
    workshop = factories.make_workshop()

    def save(wage: int) -> None:
        mine = Workshop.objects.get(pk=workshop.pk)
        mine.wage_per_hour = Decimal(wage)
        save_settings(workshop=mine, fields=["wage_per_hour"], edit_number=0)

    results = at_once(lambda: save(16), lambda: save(18))
    assert sum(isinstance(result, Refusal) for result in results) == 1
    workshop.refresh_from_db()
    assert workshop.edit_number == 1
    assert workshop.wage_per_hour == (18 if isinstance(results[0], Refusal) else 16)
