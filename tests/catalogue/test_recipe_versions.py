"""Versions of a recipe on its page: the newest, locked ones, copies, compared in words."""

import copy

from django.urls import reverse

from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import new_version
from catalogue.recipes.writing import write_recipe
from tests.catalogue.page_forms import fields_of
from tests.catalogue.recipe_documents import FULL
from tests.catalogue.test_recipe_editor import (
    address,
    document_of,
    text_of,
    version,  # noqa: F401 - fixture
)


def test_an_older_frozen_version_leads_to_the_newest(client, version):  # noqa: F811
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    newest = new_version(version=version)
    page = text_of(client.get(address(version)))
    assert f'href="{address(newest)}">Change it</a>' in page
    assert "from=1&amp;to=2" in page
    # it would begin as a copy of the newest, not of the one that is looked at
    assert "New version" not in page
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at=None)
    assert "Version 2 is the newest." in text_of(client.get(address(version)))
    assert "is the newest" not in text_of(client.get(address(newest)))


def test_a_frozen_version_is_shown_not_edited_and_copied_to_a_new_one(client, version):  # noqa: F811
    fields = fields_of(client.get(address(version)))
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at="2026-01-01T00:00Z")
    page = text_of(client.get(address(version)))
    assert "uses it" in page
    assert "create a new version from it" in page
    assert "data-recipe" not in page
    fields["steps-4-minutes"] = "6"
    answer = client.post(address(version), fields)
    assert answer.status_code == 422
    assert "Create a new version and change that one" in text_of(answer)
    assert "Save as a new version" in text_of(answer)
    typed = fields_of(answer)
    assert typed["steps-4-minutes"] == "6"
    saved = client.post(address(version), {**typed, "then": "new_version"})
    assert saved.status_code == 302
    second = DesignVersion.objects.get(number=2)
    assert document_of(second)["steps"][4]["minutes"] == "6"
    assert document_of(version) == FULL
    wrong = {**typed, "then": "new_version", "roles-0-material": "Nobody's card"}
    assert client.post(address(version), wrong).status_code == 422
    assert DesignVersion.objects.count() == 2
    new = reverse("catalogue:version_new", args=["marlow", version.design_id])
    opened = client.post(new, follow=True)
    assert "Version 3 created as a copy of version 2" in text_of(opened)
    made = DesignVersion.objects.get(number=3)
    assert document_of(made) == document_of(second)


def test_versions_are_compared_in_words(client, version):  # noqa: F811
    client.post(reverse("catalogue:version_new", args=["marlow", version.design_id]))
    made = DesignVersion.objects.get(number=2)
    changed = copy.deepcopy(FULL)
    changed["steps"][4] |= {"minutes": "12", "minutes_low": None, "minutes_high": None}
    changed["pieces"][0]["width_mm"] = "228.6"
    del changed["pieces"][2]
    changed["roles"][0]["material"] = "Ember card"
    write_recipe(made, changed)
    compare = reverse("catalogue:version_compare", args=["marlow", version.design_id])
    page = text_of(client.get(compare))
    assert "fold and glue: 5 → 12 min" in page
    assert "bag: width 8 1/2 in → 9 in" in page
    assert "piece removed: handle" in page
    assert "body: Fern card → Ember card" in page
    assert "Nothing differs" not in page
    assert "same version" in text_of(client.get(compare, {"from": "1", "to": "1"}))
    assert client.get(compare, {"from": "7", "to": "x"}).status_code == 404
