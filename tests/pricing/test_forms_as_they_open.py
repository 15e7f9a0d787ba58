"""Every form that shows something stored can be saved as its page opens, and changes nothing.

The addresses come from the URL patterns and the rows of the demo, so that a new form is tried
without anyone thinking of it. What shows nothing stored is named in `ADDS`.
"""

import itertools
import json
import re
from collections.abc import Iterator, Sequence
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
from maker.accounts.models import Try, User
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
    "catalogue:stock_count_each",
    "catalogue:expense_new",
    "catalogue:purchase_new",
    "catalogue:supplier_return",
    "pricing:closed_months_close",
    "pricing:closed_month_reopen",
    "catalogue:purchase_import",
    "catalogue:design_new",
    "pricing:order_change_item",
    "pricing:invoice_remind",  # a letter about what is open
    "pricing:order_change_answer",
    "pricing:order_approval",  # what the customer said
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
    "pricing:fair_table",
    "pricing:fair_paper",
    "pricing:fair_sale_settle",
    "pricing:shop_new",
    "pricing:shop_leave",
    "pricing:shop_back",
    "pricing:shop_settle",
    "pricing:fair_new",
    "pricing:fair_bundle_new",
    "pricing:fair_items",  # of an empty table, whose form adds ticked items
    "pricing:fair_items_add",
    "pricing:fair_plan",  # keeps what was worked out to take
    "pricing:fair_counts",  # suggests what was planned as taken
    "pricing:quote_new",
    "pricing:enquiry_new",
    "pricing:enquiry_decline",
    "pricing:quote_line_new",
    "pricing:workshop_import",
    "catalogue:material_picture",
    "catalogue:design_photos",
    "pricing:delivery_left",
    "pricing:order_cancel",
    "pricing:order_materials",  # takes from stock
    "pricing:payment_new",
    "pricing:invoice_new",
    "pricing:invoice_credit",
    "pricing:quote_accept",
    "pricing:quote_decline",
    "pricing:price_review_change",
    "pricing:price_review_decide",
    "pricing:finished_batch_new",
    "pricing:finished_batch_finish",
    "pricing:finished_move",
    "pricing:finished_count",
    "pricing:order_batch_new",
    "pricing:order_plan_new",
}
# what looking makes: a file taken out is written down, a long list is worked out, and a made-up
# link counts as a guess
LOOKING_MAKES = (Event, Work, Try)
# after so many pages of one kind without such a form no more of them are opened
ENOUGH = tries(2, thorough=5)
# what an address carries that is no key of a row
NO_ROWS = frozenset(
    {
        *("workshop", "form", "number", "at", "year", "month", "rest", "mark", "key"),
        *("edit_number", "token", "kind", "name"),
    }
)
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
    "expenses/": "catalogue.Expense",
    "receipts/": "catalogue.Purchase",
    "receipt-lines/": "catalogue.PurchaseLine",
    "receipt-files/": "catalogue.ReceiptFile",
    "designs/": "catalogue.Design",
    "offcuts/": "catalogue.Offcut",
    "offcuts/entries/": "catalogue.OffcutEntry",
    "cutting-plans/": "catalogue.CuttingPlan",
    "timer/": "pricing.TimedRun",
    "finished/": "pricing.FinishedItem",
    "making/lines/": "pricing.QuoteLine",
    "after/designs/": "catalogue.Design",
    "making/batches/": "pricing.FinishedBatch",
    "finished/moves/": "pricing.FinishedMove",
    "finished/batches/": "pricing.FinishedBatch",
    "timer/designs/": "catalogue.Design",
    "channels/": "pricing.Channel",
    "prices/": "pricing.PriceListEntry",
    "tags/sheets/": "pricing.LabelSheet",
    "customers/": "pricing.Customer",
    "quotes/": "pricing.Quote",
    "enquiries/": "pricing.Enquiry",
    "review-prices/": "pricing.PriceListEntry",
    "review-prices/quotes/": "pricing.Quote",
    "review-prices/tags/": "pricing.TagPrint",
    "review-prices/decisions/": "pricing.PriceDecision",
    "lines/": "pricing.QuoteLine",
    "links/": "pricing.QuoteLink",
    "messages/": "pricing.QuoteMessage",
    "fairs/": "pricing.Fair",
    "shops/": "pricing.Shop",
    "settlements/": "pricing.Settlement",
    "bundles/": "pricing.FairBundle",
    "days/": "pricing.FairDay",
    "sales/": "pricing.FairSale",
    "orders/": "pricing.Order",
    "deliveries/": "pricing.OrderDelivery",
    "payments/": "pricing.OrderPayment",
    "changes/": "pricing.OrderChange",
    "invoices/": "pricing.Invoice",
    "to-buy/": "catalogue.Supplier",
    "photos/": "catalogue.DesignPhoto",
    "pictures/": "maker.StoredPicture",
    "pdfs/": "maker.StoredPdf",
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


def fillings(
    address: Address,
    names: Sequence[str],
    workshop: Workshop,
    before: tuple[tuple[str, Any], ...] = (),
) -> Iterator[tuple[Any, ...]]:
    """Yield the values of all parameters of an address, of rows that belong to each other."""
    if len(before) == len(names):
        yield tuple(value for _, value in before)
        return
    name = names[len(before)]
    for value in values_of(address, name, workshop, before):
        yield from fillings(address, names, workshop, (*before, (name, value)))


def values_of(
    address: Address, parameter: str, workshop: Workshop, before: tuple[tuple[str, Any], ...] = ()
) -> list[Any]:
    """Return what may stand in the place of a parameter: every key of the workshop's rows.

    Where the rows point at a row that stands before in the address, only those that point at it.
    """
    if parameter == "workshop":
        return [workshop.slug]
    if parameter == "form":
        return list(FORMS)
    if parameter in ("number", "at"):
        return [1, 2, 3, 4]
    if parameter == "year":
        return [2026]
    if parameter == "month":
        return [1]
    if parameter == "rest":
        return []  # an address of before only leads on
    if parameter in ("mark", "key", "edit_number", "token"):
        return []  # a way back or a link, with a mark that only whoever got it knows
    if parameter == "kind":
        return ["quote" if "letters" in address.route else "proof"]
    if parameter == "name":
        return []  # a backup's file
    rows: Any = model_of(address, parameter)._default_manager.order_by("pk")
    rows = rows.of(workshop) if hasattr(rows, "of") else rows
    for earlier, key in before:
        if earlier in NO_ROWS:
            continue
        model = model_of(address, earlier)
        for field in rows.model._meta.concrete_fields:
            if field.is_relation and field.related_model is model:
                rows = rows.filter(**{field.attname: key})
                break
    return list(rows.values_list("pk", flat=True))


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
    for values in fillings(address, names, workshop):
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
