"""The table at a fair in a real browser: no network, a killed browser, two tabs, a wrong clock."""

import random
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect

from maker.accounts.models import User
from pricing.calc.fairs.basket import TableBundle, basket_of
from pricing.fairs.models import FairSale
from tests.calc.test_fair_baskets import random_case
from tests.fair_tables import Table
from tests.pages.conftest import PATIENCE_MS
from tests.pages.looks import PHONE, assert_easy_to_hit, assert_no_sideways_scroll
from tests.pages.table_phones import KEPT, all_sent, cookie_of, opened, sell, waiting
from tests.pages.weak_network import WeakNetwork


@pytest.fixture
def phone(browser: Browser, network: WeakNetwork, owner: User) -> Iterator[BrowserContext]:
    """A phone of the owner, signed in; its time is that of the server."""
    context = browser.new_context(
        base_url=network.address, viewport=PHONE, locale="en-GB", has_touch=True
    )
    context.set_default_timeout(PATIENCE_MS)
    context.add_cookies([cookie_of(owner, network.address)])  # type: ignore[list-item]
    yield context
    context.close()


def test_a_sale_takes_three_taps(phone: BrowserContext, table: Table) -> None:
    page = opened(phone, table)
    page.get_by_role("button", name="Paper lantern").click()
    page.get_by_role("button", name="3 × Paper lantern").click()
    page.get_by_role("button", name="Cash").click()
    expect(page.locator("[data-toast]")).to_contain_text("€19.50 cash stored.")
    all_sent(page)
    row = FairSale.objects.get()
    assert (row.received, row.lines.get().quantity) == (Decimal("19.50"), 3)


def test_a_day_that_is_not_open_yet_leads_to_opening_it(
    phone: BrowserContext, workshop: Any
) -> None:
    table = Table(workshop, is_open=False)
    page = phone.new_page()
    page.goto(table.address())
    expect(page.get_by_text("This day is not open yet.")).to_be_visible()
    expect(page.get_by_text("This day is closed.")).to_have_count(0)
    page.get_by_role("button", name="Open day").click()
    page.wait_for_selector(KEPT)
    sell(page)
    all_sent(page)
    expect(page.get_by_role("button", name="Open day")).to_be_hidden()
    # closed on another screen: this one learns it with what it sends next
    table.day.refresh_from_db()
    table.day.closed_at = timezone.now()
    table.day.save()
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_text("This day is closed.")).to_be_visible()
    expect(page.get_by_role("button", name="Reopen day")).to_be_visible()


def test_taps_as_fast_as_fingers_sell_each_thing_once(phone: BrowserContext, table: Table) -> None:
    """Twice on “Cash”, and the next customer's item before the first sale is written."""
    page = opened(phone, table)
    page.evaluate(
        """() => {
          const named = (place, text) =>
            [...document.querySelectorAll(`${place} button`)]
              .find((each) => each.textContent.includes(text));
          named("[data-tiles]", "Paper lantern").click();
          const cash = named("[data-pay]", "Cash");
          cash.click();
          cash.click();
          named("[data-tiles]", "Star box").click();
          named("[data-pay]", "Card").click();
        }"""
    )
    expect(page.locator("[data-log] li")).to_have_count(2)
    all_sent(page)
    rows = FairSale.objects.order_by("pk").values_list("received", "way")
    assert list(rows) == [(Decimal("6.5"), "cash"), (Decimal(11), "card")]


def test_a_bundle_applies_itself_and_undo_takes_a_sale_back(
    phone: BrowserContext, table: Table
) -> None:
    page = opened(phone, table)
    page.get_by_role("button", name="Paper lantern").click()
    page.get_by_role("button", name="Paper lantern").first.click()
    page.get_by_role("button", name="Star box").first.click()
    expect(page.locator("[data-basket]")).to_contain_text("Two lanterns and a box")
    page.get_by_role("button", name="Card €22.50").click()
    expect(page.locator("[data-toast]")).to_contain_text("€22.50 card stored.")
    all_sent(page)
    assert FairSale.objects.get().bundle_off == Decimal("1.50")
    page.locator("[data-toast]").get_by_role("button", name="Undo").click()
    expect(page.locator("[data-total]")).to_have_text("€0.00")
    all_sent(page)
    assert FairSale.objects.get().undone_at is not None


def test_without_network_the_page_opens_again_and_sales_are_sent_later(
    phone: BrowserContext, table: Table, network: WeakNetwork
) -> None:
    page = opened(phone, table)
    sell(page)
    all_sent(page)
    network.cut()
    sell(page, way="Card")
    sell(page, "Star box")
    waiting(page, 2)
    page.reload()
    waiting(page, 2)
    expect(page.locator("[data-total]")).to_have_text("€24.00")
    # a page it was never on is not kept
    elsewhere = phone.new_page()
    with pytest.raises(Exception, match="ERR_CONNECTION"):
        elsewhere.goto(f"/w/{table.workshop.slug}/")
    elsewhere.close()
    sell(page)
    waiting(page, 3)
    assert FairSale.objects.count() == 1
    network.mend()
    page.get_by_role("button", name="Send now").click()
    all_sent(page)
    assert FairSale.objects.count() == 4
    kept = page.evaluate(
        "async () => (await Promise.all((await caches.keys()).map(async (name) =>"
        " (await (await caches.open(name)).keys())"
        " .map((each) => new URL(each.url).pathname)))).flat()"
    )
    assert table.address() in kept
    assert all(each == table.address() or each.startswith("/static/") for each in kept)


def test_a_sign_in_that_ran_out_keeps_sales_and_asks_again(
    phone: BrowserContext, table: Table, owner: User, network: WeakNetwork
) -> None:
    page = opened(phone, table)
    phone.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    sell(page)
    link = page.get_by_role("link", name="Sign in to send sales")
    expect(link).to_be_visible()
    waiting(page, 1)
    page.reload()
    # what waits is shown again before the next sale is counted beside it
    waiting(page, 1)
    sell(page)
    waiting(page, 2)
    link.click()
    expect(page).to_have_url(re.compile("/sign-in/.*table"))
    phone.add_cookies([cookie_of(owner, network.address)])  # type: ignore[list-item]
    page.goto(table.address())
    all_sent(page)
    assert FairSale.objects.count() == 2


def test_two_tabs_send_each_sale_once(
    phone: BrowserContext, table: Table, network: WeakNetwork
) -> None:
    first, second = opened(phone, table), opened(phone, table)
    network.cut()
    for page in (first, second, first, second):
        sell(page)
    waiting(first, 4)
    waiting(second, 4)
    network.mend()
    for page in (first, second):
        page.get_by_role("button", name="Send now").click()
    for page in (first, second):
        all_sent(page)
    assert FairSale.objects.count() == 4


def test_two_phones_at_one_table_see_each_others_sales(
    phone: BrowserContext, browser: Browser, table: Table, owner: User, network: WeakNetwork
) -> None:
    page = opened(phone, table)
    other = browser.new_context(base_url=network.address, viewport=PHONE)
    other.add_cookies([cookie_of(owner, network.address)])  # type: ignore[list-item]
    theirs = opened(other, table)
    sell(page)
    all_sent(page)
    sell(theirs, "Star box", "Card")
    all_sent(theirs)
    expect(theirs.locator("[data-total]")).to_have_text("€17.50")
    expect(theirs.locator("[data-tiles]")).to_contain_text("39 left")
    assert len(set(FairSale.objects.values_list("phone", flat=True))) == 2
    other.close()


def test_the_clock_of_the_phone_is_a_day_ahead(phone: BrowserContext, table: Table) -> None:
    page = phone.new_page()
    page.clock.install(time=timezone.now().timestamp() + 24 * 3600)
    page.goto(table.address())
    page.wait_for_selector(KEPT)
    sell(page)
    all_sent(page)
    row = FairSale.objects.get()
    assert abs((row.happened_at - timezone.now()).total_seconds()) < 120
    assert row.phone_at is not None
    assert 23 < (row.phone_at - row.happened_at).total_seconds() / 3600 < 25


def test_one_of_ten_that_is_refused_is_shown_and_the_others_are_sent(
    phone: BrowserContext, table: Table, network: WeakNetwork
) -> None:
    page = opened(phone, table)
    network.cut()
    for place in range(10):
        sell(page, "Star box" if place == 4 else "Paper lantern")
    waiting(page, 10)
    design = table.starbox.version.design
    design.retired_on = timezone.localdate()
    design.save()
    network.mend()
    page.get_by_role("button", name="Send now").click()
    all_sent(page)
    expect(page.locator("[data-log]")).to_contain_text("sent, not booked: Star box is archived.")
    expect(page.get_by_role("link", name="Look at these sales")).to_be_visible()
    assert FairSale.objects.count() == 10
    assert [row.received for row in FairSale.objects.exclude(problem="")] == [Decimal(11)]


def test_everything_else_that_happens(phone: BrowserContext, table: Table) -> None:
    page = opened(phone, table)

    def tap(item: str) -> None:
        page.locator("[data-tiles]").get_by_role("button", name=item).click()

    def more(button: str) -> None:
        page.locator("[data-more] summary").click()
        page.get_by_role("button", name=button).click()

    tap("Paper lantern")
    page.locator("[data-more] summary").click()
    page.get_by_role("button", name="Take off discount").click()
    expect(page.locator("[data-discount-form]")).to_contain_text("Enter an amount")
    page.get_by_label("Discount").fill("0.50")
    page.get_by_label("Reason").fill("dented corner")
    page.get_by_role("button", name="Take off discount").click()
    page.get_by_role("button", name="Cash €6.00").click()
    for item, button in (
        ("Paper lantern", "Refund in cash"),
        ("Paper lantern", "Store as given away"),
        ("Star box", "Store as broken"),
        ("Star box", "Mark as sold out"),
    ):
        tap(item)
        more(button)
    tap("Paper lantern")
    more("Swap these items")
    tap("Star box")
    page.get_by_role("button", name="Cash €4.50").click()
    page.get_by_text("Order with deposit").click()
    page.get_by_label("Customer", exact=True).fill("Ottoline")
    page.get_by_label("What is ordered").fill("40 bags")
    page.get_by_label("Date needed").fill("2027-05-01")
    page.get_by_label("Deposit", exact=True).fill("20")
    page.get_by_role("button", name="Store order, card").click()
    expect(page.locator("[data-toast]")).to_contain_text("Order stored.")
    all_sent(page)
    expect(page.locator("[data-tiles]")).to_contain_text("sold out")
    rows = {row.kind: row for row in FairSale.objects.all()}
    assert not [row.problem for row in rows.values() if row.problem]
    assert {kind: row.received for kind, row in rows.items()} == {
        "sale": Decimal(6),
        "refund": Decimal("-6.5"),
        "given": Decimal(0),
        "broken": Decimal(0),
        "sold_out": Decimal(0),
        "swap": Decimal("4.5"),
        "order": Decimal(20),
    }


def test_without_https_the_page_sells_and_says_what_it_cannot(
    phone: BrowserContext, table: Table
) -> None:
    phone.add_init_script(
        """Object.defineProperty(window, "isSecureContext", { value: false });
        for (const name of ["locks", "serviceWorker", "storage"])
          Object.defineProperty(navigator, name, { value: undefined });
        Object.defineProperty(crypto, "randomUUID", { value: undefined });
        Object.defineProperty(window, "caches", { value: undefined });"""
    )
    page = phone.new_page()
    page.goto(table.address())
    page.wait_for_selector("html[data-ready=online]")
    expect(page.locator("[data-notices]")).to_contain_text("without HTTPS")
    sell(page)
    all_sent(page)
    assert FairSale.objects.count() == 1


def test_a_sale_that_cannot_be_written_stays_in_the_basket_and_says_so(
    phone: BrowserContext, table: Table
) -> None:
    page = opened(phone, table)
    page.evaluate(
        """() => {
          IDBObjectStore.prototype.add = () => {
            throw new DOMException("full", "QuotaExceededError");
          };
        }"""
    )
    page.get_by_role("button", name="Paper lantern").click()
    page.get_by_role("button", name="Cash €6.50").click()
    expect(page.locator("[data-toast]")).to_contain_text(
        "Not stored: this phone could not write it"
    )
    expect(page.locator("[data-basket]")).to_contain_text("1 × Paper lantern")
    assert not FairSale.objects.exists()


def test_a_browser_that_keeps_nothing_has_the_form(phone: BrowserContext, table: Table) -> None:
    phone.add_init_script(
        """Object.defineProperty(window, "indexedDB", {
          value: { open() { throw new Error("none here"); } },
        });"""
    )
    page = phone.new_page()
    page.goto(table.address())
    expect(page.locator("[data-notices]")).to_contain_text("keeps nothing")
    page.get_by_label("Card").check()
    page.get_by_role("button", name="Store sale").click()
    expect(page.locator("[data-notices]").first).to_contain_text("Stored €6.50 card.")
    assert FairSale.objects.get().way == "card"


def test_the_page_is_for_everyone_and_for_sunlight(
    phone: BrowserContext, table: Table, axe: Callable[[Page], None]
) -> None:
    page = opened(phone, table)
    page.get_by_role("button", name="Paper lantern").click()
    page.locator("[data-more] summary").click()
    axe(page)
    assert_easy_to_hit(page)
    assert_no_sideways_scroll(page)
    low = page.evaluate(SUNLIGHT)
    assert not low, low


# every text against what is behind it: 7:1 (WCAG 2.2, success criterion 1.4.6)
SUNLIGHT = """() => {
  const parts = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map((v) => v / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const behind = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const colour = parts(getComputedStyle(at).backgroundColor);
      if (colour.length < 4 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const node of document.querySelectorAll("body *")) {
    const own = [...node.childNodes].some((each) => each.nodeType === 3 && each.data.trim());
    if (!own || node.tagName === "SCRIPT" || !node.getClientRects().length) continue;
    const [a, b] = [light(parts(getComputedStyle(node).color)), light(behind(node))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 7) found.push(`${node.tagName} ${node.textContent.trim()}: ${ratio.toFixed(1)}`);
  }
  return found;
}"""


def test_the_phone_comes_to_the_same_amount_as_the_workshop(
    phone: BrowserContext, table: Table
) -> None:
    rng = random.Random(7)
    cases = [random_case(rng) for _ in range(400)]
    page = opened(phone, table)
    told = page.evaluate(
        "async (cases) => { const { basketOf } = await import('/static/js/table-basket.js');"
        " return cases.map((each) => basketOf(each.items, each.prices, each.bundles)); }",
        [
            {"items": items, "prices": prices, "bundles": [_plain(each) for each in bundles]}
            for items, prices, bundles in cases
        ],
    )
    for (items, prices, bundles), answer in zip(cases, told, strict=True):
        basket = basket_of(items, prices, bundles)
        assert (answer["amount"], answer["bundles"]) == (basket.amount, dict(basket.bundles))


def _plain(bundle: TableBundle) -> dict[str, Any]:
    return {
        "key": bundle.key,
        "items": dict(bundle.items),
        "price": bundle.price,
        "lowest": bundle.lowest,
    }
