"""How a material looks: entered on its page, left alone by what does not speak of it."""

import pytest
from django.urls import reverse

from catalogue.materials.models import Material
from tests.catalogue.page_forms import fields_of
from tests.catalogue.pages import text_of


def edit_page(card):
    return reverse("catalogue:material_edit", args=[card.workshop.slug, card.pk])


def test_colour_and_pattern_are_kept_and_seen_in_the_list(client, card):
    sent = fields_of(client.get(edit_page(card)))
    sent |= {"colour": "#A9BD9C", "pattern": "gingham", "second_colour": "#102030"}
    assert client.post(edit_page(card), sent).status_code == 302
    card.refresh_from_db()
    assert (card.colour, card.pattern, card.second_colour) == ("#a9bd9c", "gingham", "#102030")
    page = text_of(client.get(reverse("catalogue:material_list", args=[card.workshop.slug])))
    assert 'fill="#a9bd9c"' in page
    assert 'stroke="#102030"' in page


def test_a_form_that_does_not_speak_of_its_look_leaves_it(client, card):
    Material.objects.filter(pk=card.pk).update(colour="#334455", pattern="dots")
    sent = fields_of(client.get(edit_page(card)))
    for name in ("colour", "pattern", "second_colour", "back_colour", "pattern_step_mm"):
        del sent[name]
    assert client.post(edit_page(card), sent).status_code == 302
    card.refresh_from_db()
    assert (card.colour, card.pattern, card.pattern_step_mm) == ("#334455", "dots", 12)


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("colour", "red"),
        ("second_colour", '"><b'),
        ("back_colour", "#12"),
        ("pattern", "tartan"),
        ("pattern_step_mm", "1 mm"),
    ],
)
def test_what_is_no_colour_or_too_fine_is_said_at_its_field(client, card, name, typed):
    sent = {**fields_of(client.get(edit_page(card))), name: typed}
    answer = client.post(edit_page(card), sent)
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {name}
    assert answer.context["form"].look_is_open
    card.refresh_from_db()
    assert card.colour == Material._meta.get_field("colour").default
