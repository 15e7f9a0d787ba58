"""Every form that shows something stored can be saved as its page opens, and changes nothing.

The addresses come from the URL patterns and the rows of the demo, so that a new form is tried
without anyone thinking of it. What shows nothing stored is named in `ADDS`.
"""

import itertools
import json
import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.apps import apps
from django.db.models import Model
from django.http import HttpResponse
from django.test import Client
from django.urls import resolve

from catalogue.calc.flat_patterns import FORMS
from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.activity.models import Event
from maker.slow_work.models import Work
from maker.workshop.models import Workshop
from pricing.workshop_file.demo import DEMO_EMAIL
from pricing.workshop_file.services import export_workshop
from tests.catalogue.page_forms import PageForm, forms_of
from tests.rules.addresses import PARAMETER, Address, all_addresses
from tests.thorough import tries

# forms that add a row or do something once: sent twice they would do it twice
ADDS = {
    "maker:account",  # her password, which no page shows
    "maker:prove",  # her password again
    "maker:workshop_new",
    "maker:people",  # invites
    "catalogue:supplier_new",
    "catalogue:material_new",
    "catalogue:material_import",
    "catalogue:stock_move",
    "catalogue:stock_count",
    "catalogue:purchase_new",
    "catalogue:purchase_import",
    "catalogue:design_new",
    "catalogue:recipe_paste",
    "catalogue:version_size",  # makes a version of another size
    "catalogue:offcut_new",
    "catalogue:offcut",  # takes from or adds to what is there
    "catalogue:plan_new",
    "catalogue:plan_cut",
    "catalogue:plan_keep",
    "pricing:price_set",
    "pricing:timer_enter",
    "pricing:timer_count",
    "pricing:channel_new",
    "pricing:tag_sheet",
    "pricing:tag_label_sheet_new",
    "pricing:customer_new",
    "pricing:quote_new",
    "pricing:quote_line_new",
    "pricing:workshop_import",
    "pricing:quote_accept",
    "pricing:quote_decline",
    "pricing:price_review_change",
    "pricing:price_review_decide",
}
# what looking makes: a file taken out is written down, and a long list is worked out
LOOKING_MAKES = (Event, Work)
# after so many pages of one kind without such a form no more of them are opened
ENOUGH = tries(2, thorough=5)
# whose key an address carries, by what stands before it in the route
KEY_OF = {
    "workshops/leave/": "maker.Workshop",
    "account/second-step/passkeys/": "maker.Passkey",
    "people/": "maker.Membership",
    "work/": "maker.Work",
    "suppliers/": "catalogue.Supplier",
    "materials/": "catalogue.Material",
    "packs/": "catalogue.Pack",
    "stock/": "catalogue.StockEntry",
    "receipts/": "catalogue.Purchase",
    "receipt-lines/": "catalogue.PurchaseLine",
    "designs/": "catalogue.Design",
    "offcuts/": "catalogue.Offcut",
    "offcuts/entries/": "catalogue.OffcutEntry",
    "cutting-plans/": "catalogue.CuttingPlan",
    "timer/": "pricing.TimedRun",
    "timer/designs/": "catalogue.Design",
    "channels/": "pricing.Channel",
    "prices/": "pricing.PriceListEntry",
    "tags/sheets/": "pricing.LabelSheet",
    "customers/": "pricing.Customer",
    "quotes/": "pricing.Quote",
    "review-prices/": "pricing.PriceListEntry",
    "review-prices/quotes/": "pricing.Quote",
    "review-prices/tags/": "pricing.TagPrint",
    "review-prices/decisions/": "pricing.PriceDecision",
    "lines/": "pricing.QuoteLine",
}

pytestmark = pytest.mark.django_db


@pytest.fixture(params=["Tamsel Bridge Paperworks", "Worked case"])
def demo(_examples: None, db: None, request: pytest.FixtureRequest) -> Workshop:
    """An example workshop: the large one in millimetres, the small one as it comes."""
    # a recipe that nothing was sent with is a form, any other is shown
    DesignVersion.objects.update(frozen_at=None)
    return Workshop.objects.get(name=request.param)


@pytest.fixture
def penny(demo: Workshop) -> Client:
    client = Client()
    client.force_login(
        User.objects.get(email=DEMO_EMAIL), backend="django.contrib.auth.backends.ModelBackend"
    )
    return client


def model_of(address: Address, parameter: str) -> type[Model]:
    """Return whose key stands in an address."""
    before = address.route.split(f"<int:{parameter}>")[0].removeprefix("w/<slug:workshop>/")
    after_the_last = before.rpartition(">/")[2] or before
    label = KEY_OF.get(before) or KEY_OF.get(after_the_last)
    assert label, f"{address.route}: say in KEY_OF whose key stands behind {before}"
    return apps.get_model(label)


def values_of(address: Address, parameter: str, workshop: Workshop) -> list[Any]:
    """Return what may stand in the place of a parameter: every row's key."""
    if parameter == "workshop":
        return [workshop.slug]
    if parameter == "form":
        return list(FORMS)
    if parameter == "number":
        return [1, 2, 3, 4]
    if parameter == "year":
        return [2026]
    if parameter == "month":
        return [1]
    if parameter == "rest":
        return []  # an address of before only leads on
    if parameter in ("mark", "key", "edit_number"):
        return []  # a way back, with a mark that only the page before it knows
    if parameter == "name":
        return []  # a backup's file
    model = model_of(address, parameter)
    return list(model._default_manager.order_by("pk").values_list("pk", flat=True))


def forms_at(
    penny: Client, address: Address, workshop: Workshop, *, adding: bool = False
) -> Iterator[tuple[str, PageForm]]:
    """Yield target and form of whatever shows something stored on the pages of an address.

    With `adding` also of what adds something.
    """
    if address.route.endswith((".pdf", ".svg", "pdf/")):
        return
    without = 0
    names = [found[1] for found in PARAMETER.findall(address.route)]
    for values in itertools.product(*(values_of(address, name, workshop) for name in names)):
        if without == ENOUGH:
            return
        filling = iter(values)
        path = "/" + PARAMETER.sub(lambda _, filling=filling: str(next(filling)), address.route)
        page = penny.get(path)
        if page.status_code == 405:
            return
        if page.status_code != 200 or "html" not in page["Content-Type"]:
            continue
        found = False
        for form in forms_of(page):
            target = urlsplit(form.action).path or path
            if form.method != "post" or not form.entries:
                continue
            if adding or resolve(target).view_name not in ADDS:
                found = True
                yield target, form
        without += not found


def stored(workshop: Workshop) -> Any:
    """Return everything of a workshop, and how many rows of each kind there are anywhere."""
    counts = {
        model._meta.label: model._default_manager.count()
        for app in ("maker", "catalogue", "pricing")
        for model in apps.get_app_config(app).get_models()
        if model not in LOOKING_MAKES
    }
    return [export_workshop(Workshop.objects.get(pk=workshop.pk)), counts]


def differences(before: Any, after: Any, path: str = "") -> Iterator[str]:
    if isinstance(before, dict) and isinstance(after, dict):
        for key in (before.keys() | after.keys()) - {"edit_number"}:
            yield from differences(before.get(key), after.get(key), f"{path}.{key}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for place, (one, other) in enumerate(zip(before, after, strict=True)):
            yield from differences(one, other, f"{path}[{place}]")
    elif before != after:
        yield f"{path}: {json.dumps(before)[:200]} -> {json.dumps(after)[:200]}"


def complaints_in(answer: HttpResponse) -> str:
    """Return the words of the error summary."""
    main = answer.content.decode().partition("<main")[2]
    return " ".join(re.sub(r"<[^>]*>", " ", main).split())[:300]


def test_every_form_is_saved_as_its_page_opens(penny: Client, demo: Workshop) -> None:
    tried: set[str] = set()
    wrong: list[str] = []
    before = stored(demo)
    for address in all_addresses():
        targets = []
        for target, form in forms_at(penny, address, demo):
            targets.append(target)
            answer = penny.post(target, form.sent())
            if answer.status_code != 302:
                wrong.append(f"{target}: {answer.status_code} {complaints_in(answer)}")
        if targets:
            tried |= {resolve(target).view_name for target in targets}
            after = stored(demo)
            wrong += [f"{address.route} changed {what}" for what in differences(before, after)]
            before = after
    assert not wrong, "\n".join(wrong)
    assert tried >= {"pricing:channel", "catalogue:recipe", "maker:workshop_hour"}


def test_what_is_said_to_add_is_there() -> None:
    assert {address.name for address in all_addresses()} >= ADDS


# numbers that are none, that have no end, or that no column holds
ODD_NUMBERS = [
    "1e999",
    "-1e999",
    "nan",
    "inf",
    "9" * 10_000,
    "1e-999",
    "0/0",
    "1/0",
    "٣",
    "−",
    "½½",
]


@pytest.mark.parametrize("demo", ["Worked case"], indirect=True)
def test_no_form_breaks_at_a_number_that_is_none(penny: Client, demo: Workshop) -> None:
    """The test client raises what a browser would see as an error page."""
    tried = 0
    for address in all_addresses():
        for target, form in itertools.islice(forms_at(penny, address, demo, adding=True), 1):
            if resolve(target).view_name in ("maker:account", "maker:workshop_settings"):
                continue  # no number but her password; the name is in every address
            hidden = {name for name, _ in form.fields} - {*form.entries}
            for number, names in itertools.product(ODD_NUMBERS, ({*form.entries}, hidden)):
                sent = form.sent() | {name: [number] for name in names}
                assert penny.post(target, sent).status_code < 500, (target, number)
            tried += 1
    assert tried > 20
