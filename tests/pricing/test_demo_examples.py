"""Example workshops that are there: loaded again, kept apart, taken along, safe from others."""

import json
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from catalogue.materials.models import Material
from maker.accounts.models import Membership, User
from maker.calc.strict_json import parse
from maker.workshop.models import Workshop
from pricing.workshop_file.demo import DEMO_EMAIL, load_examples, remove_examples
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests import factories
from tests.pricing.demo_rows import rows_everywhere

TODAY = factories.today()
DEMO = "Tamsel Bridge Paperworks"

pytestmark = pytest.mark.django_db


def test_a_second_load_changes_nothing(demo):
    before = rows_everywhere()
    output = StringIO()
    call_command("load_demo", stdout=output)
    assert rows_everywhere() == before
    assert "already loaded" in output.getvalue()
    assert User.objects.get(email=DEMO_EMAIL).check_password("glue-and-twine")


def test_again_brings_the_examples_back_as_they_were(demo):
    before = rows_everywhere()
    demo.designs.update(description="scribbled over")
    call_command("load_demo", again=True, password="another-password", verbosity=0)
    assert rows_everywhere() == before
    assert not Workshop.objects.filter(designs__description="scribbled over").exists()
    assert User.objects.get(email=DEMO_EMAIL).check_password("another-password")


def test_the_demo_person_stays_when_she_owns_something_else(demo):
    own = factories.make_workshop()
    person = User.objects.get(email=DEMO_EMAIL)
    Membership.objects.create(user=person, workshop=own, role="owner")
    call_command("remove_demo", verbosity=0)
    assert list(Workshop.objects.all()) == [own]
    assert User.objects.filter(email=DEMO_EMAIL).exists()


def test_each_person_has_examples_of_her_own(demo, owner, workshop):
    load_examples(owner=owner, today=TODAY)
    assert Workshop.objects.demo().filter(name=DEMO).count() == 2
    assert sorted(remove_examples(owner=owner)) == [DEMO, "Worked case"]
    assert Workshop.objects.get(name=DEMO) == demo
    assert owner.memberships.get().workshop == workshop


def test_a_member_who_does_not_own_an_example_cannot_remove_it(demo, client, owner):
    Membership.objects.create(user=owner, workshop=demo, role="helper")
    client.post(reverse("pricing:demo_remove"))
    assert Workshop.objects.filter(pk=demo.pk).exists()


def test_the_demo_comes_back_byte_by_byte_from_its_own_export(demo):
    text = document_text(export_workshop(demo))
    again = import_workshop(parse(text.encode()), name="Copy")
    expected = text.replace(json.dumps(DEMO), json.dumps("Copy"), 1)
    assert document_text(export_workshop(again)) == expected
    figures = ("name", "on_hand", "stock_value", "average_cost", "fifo_cost", "latest_cost")
    assert list(Material.objects.of(again).order_by("pk").values_list(*figures)) == list(
        Material.objects.of(demo).order_by("pk").values_list(*figures)
    )
