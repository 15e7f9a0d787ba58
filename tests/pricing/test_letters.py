"""Texts of letters: changed in the settings, with placeholders that are checked."""

import json

import pytest
from django.urls import reverse

from maker.calc.strict_json import WrongJson
from pricing.letters.models import Letter
from pricing.letters.services import KINDS, BadLetter, check_letter, save_letter, write_letter
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.catalogue.page_forms import forms_of

Kind = Letter.Kind


@pytest.mark.parametrize("kind", list(Kind))
def test_the_first_text_keeps_its_own_rules(workshop, kind):
    known = KINDS[kind]
    check_letter(kind, known.subject, known.text)
    values = {name: f"<{name}>" for name in known.placeholders}
    letter = write_letter(workshop, kind, values)
    assert "{" not in letter["subject"] + letter["text"]


def test_what_differs_is_put_in_and_nothing_else_is_read(workshop):
    save_letter(workshop=workshop, kind=Kind.QUOTE, subject="{quote}", text="{link}, {customer}")
    letter = write_letter(
        workshop, Kind.QUOTE, {"quote": "Q-1\nBcc: x", "link": "https://x", "customer": "{link}"}
    )
    assert letter == {"subject": "Q-1 Bcc: x", "text": "https://x, {link}"}


@pytest.mark.parametrize(
    ("subject", "text", "told"),
    [
        ("Quote", "{link} {wage}", "{wage} is not known"),
        ("{link.__class__}", "{link}", "is not known"),
        ("Quote", "Hello {customer}", "Put {link} into"),
    ],
)
def test_an_unknown_or_missing_placeholder_is_refused(workshop, subject, text, told):
    with pytest.raises(BadLetter, match=told.replace("{", r"\{").replace("}", r"\}")):
        save_letter(workshop=workshop, kind=Kind.QUOTE, subject=subject, text=text)


def test_a_letter_is_changed_and_put_back_on_its_page(client, owner, workshop):
    client.force_login(owner)
    page = reverse("pricing:letter_edit", args=[workshop.slug, "reminder"])
    shown = client.get(page).content.decode()
    assert "{amount}" in shown
    assert "What is still open" in shown
    bad = client.post(page, {"subject": "Pay", "text": "Now! {mood}"})
    assert bad.status_code == 422
    assert "Now! {mood}" in bad.content.decode()
    client.post(page, {"subject": "Invoice", "text": "{invoice}: {amount}"})
    assert Letter.objects.get().text == "{invoice}: {amount}"
    listed = client.get(reverse("pricing:letter_list", args=[workshop.slug])).content.decode()
    assert "changed" in listed
    client.post(page, {"reset": "1"})
    assert not Letter.objects.exists()
    assert client.get(page.replace("reminder", "poem")).status_code == 404


@pytest.mark.parametrize("kind", list(Kind))
def test_a_letter_saved_as_it_opens_keeps_following_the_program(client, owner, workshop, kind):
    client.force_login(owner)
    page = reverse("pricing:letter_edit", args=[workshop.slug, kind])
    opened = next(form for form in forms_of(client.get(page)) if "text" in form.entries)
    assert client.post(page, opened.sent()).status_code == 302
    assert not Letter.objects.exists()
    # typed back to the program's own it is no change any more
    Letter.objects.create(workshop=workshop, kind=kind, subject="Mine", text="Mine")
    assert client.post(page, opened.sent()).status_code == 302
    assert not Letter.objects.exists()


def test_letters_are_in_the_workshop_file(workshop):
    save_letter(workshop=workshop, kind=Kind.QUOTE, subject="Hi", text="{link}")
    written = json.loads(json.dumps(export_workshop(workshop)))
    copy = import_workshop(written, name="Second Mill")
    assert Letter.objects.of(copy).get().subject == "Hi"
    written["letters"][0]["text"] = "{wage}"
    with pytest.raises(WrongJson, match="not known"):
        import_workshop(written, name="Third Mill")
