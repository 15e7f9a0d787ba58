"""One workshop out of the browser and in again."""

import json

from django.core.files.uploadedfile import SimpleUploadedFile

from catalogue.materials.models import Material
from maker.accounts.models import Membership
from maker.activity.models import Event
from maker.workshop.models import Workshop
from tests import factories

EXPORT = "/w/marlow/settings/file/export/"


def sent(content, **more):
    return {"file": SimpleUploadedFile("workshop.json", content), **more}


def test_what_goes_out_comes_in_as_a_workshop_of_whoever_sends_it(
    client, stranger_client, stranger, workshop
):
    factories.make_pack(factories.make_material(workshop, name="Moss card"))
    answer = client.get(EXPORT)
    assert answer["Content-Disposition"].startswith('attachment; filename="marlow-')
    assert "no-store" in answer["Cache-Control"]
    assert json.loads(answer.content)["workshop"]["name"] == "Marlow Paperworks"
    answer = stranger_client.post("/workshops/import/", sent(answer.content))
    # that somebody else's has the name is not hers to know
    copy = Workshop.objects.exclude(pk=workshop.pk).get(name="Marlow Paperworks")
    assert answer["Location"] == f"/w/{copy.slug}/"
    assert [one.name for one in Material.objects.of(copy)] == ["Moss card"]
    (membership,) = Membership.objects.of(copy)
    assert (membership.user, membership.role) == (stranger, "owner")
    assert set(Event.objects.values_list("kind", flat=True)) >= {"exported", "imported"}


def test_a_name_she_has_already_is_refused_beside_the_name_and_can_be_changed(client, workshop):
    content = client.get(EXPORT).content
    answer = client.post("/workshops/import/", sent(content))
    assert "There is a workshop" in answer.content.decode()
    assert answer.context["form"].errors.keys() == {"name"}
    client.post("/workshops/import/", sent(content, name="Marlow, copy"))
    assert Workshop.objects.filter(name="Marlow, copy").exists()


def test_a_bad_file_is_refused_whole_with_the_place(client, workshop):
    document = json.loads(client.get(EXPORT).content)
    document["workshop"]["currency"] = "XXY"
    for content, said in (
        (b"", "The file is empty"),
        (b"no json", "The file is not JSON"),
        (b"\xff\xfe", "not UTF-8"),
        (b"[]", ""),
        (json.dumps(document).encode(), "(workshop.currency)"),
    ):
        answer = client.post("/workshops/import/", sent(content, name="New"))
        assert answer.status_code == 422
        assert said in answer.content.decode()
        assert "file" in answer.context["form"].errors
    assert Workshop.objects.count() == 1


def test_who_may_not_gets_no_file(
    helper_client, reader_client, stranger_client, anonymous_client, workshop
):
    assert helper_client.get(EXPORT).status_code == 403
    assert reader_client.get(EXPORT).status_code == 403
    assert stranger_client.get(EXPORT).status_code == 404
    assert anonymous_client.get(EXPORT).status_code == 302
    assert anonymous_client.get("/workshops/import/").status_code == 302


def test_the_pages_lead_there(client, workshop):
    assert EXPORT in client.get("/w/marlow/settings/file/").content.decode()
    assert "/workshops/import/" in client.get("/workshops/?all").content.decode()
    assert "/account/delete/" in client.get("/account/").content.decode()
