"""What pages, papers and commands say of one price at one moment is the same figure.

One walk over every design of the demo, every channel and some quantities: what one page says is
laid beside what the others say, as it is written there, so that another rounding counts as another
figure.
"""

import io
import json
import re
from collections import defaultdict
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from urllib.parse import urlencode

import pdfplumber
import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion
from maker.accounts.models import User
from maker.web.words import money, percent
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.prices.inputs import entry_name, item_of, price_book
from pricing.prices.models import PriceListEntry
from pricing.quantities import services
from pricing.workshop_file.demo import DEMO_EMAIL
from tests.pricing.quotes import make_customer, make_line, make_quote
from tests.thorough import tries

D = Decimal
DEMO = "Tamsel Bridge Paperworks"
QUANTITIES = (1, 12, 60)

pytestmark = pytest.mark.django_db


def usually(channel: Channel, made: int) -> int:
    """What one buyer of a channel usually takes of what is made."""
    return min(channel.bought_at_once or made, made)


class Walk:
    """Asks every page and keeps what each says, by what it is about."""

    def __init__(self, shop: Workshop, client: Client) -> None:
        self.shop, self.client = shop, client
        # (what, about what) -> what is written -> where it is written
        self.said: dict[tuple[str, ...], dict[str, list[str]]] = defaultdict(dict)
        self.customer = make_customer(shop)

    def hear(self, where: str, what: str, about: tuple[object, ...], text: str) -> None:
        """Keep that a place says a text of something."""
        key = (what, *map(str, about))
        self.said[key].setdefault(text.strip(), []).append(where)

    def page(self, name: str, *args: object, **question: object):
        """Return a page's context; it must open."""
        address = reverse(f"pricing:{name}", args=[self.shop.slug, *args])
        response = self.client.get(f"{address}?{urlencode(question)}")
        assert response.status_code == 200, (name, args, question)
        return response

    def money(self, amount: Decimal) -> str:
        """Write an amount as pages do."""
        return money(amount, self.shop)

    def contradictions(self) -> list[str]:
        """Return what is said in two ways, with where."""
        return [
            f"{key}: " + " against ".join(f"{text} ({', '.join(at)})" for text, at in texts.items())
            for key, texts in self.said.items()
            if len(texts) > 1
        ]

    # --- one design, channel, what is made at once and what one buyer takes of it ---

    def command(self, design: Design, channel: Channel, made: int, bought: int) -> None:
        """What the command prints, written as a page writes it."""
        out = io.StringIO()
        call_command(
            "cost", design.name, "--quantity", str(made), "--bought-at-once", str(bought),
            "--channel", channel.name, "--workshop", self.shop.slug, stdout=out,
        )  # fmt: skip
        answer = json.loads(out.getvalue())
        found = answer["figures"]
        about, where = (design, channel, made, bought), "cost command"
        self.hear(where, "worked out", about, self.money(D(found["price_each"])))
        (lowest,) = (line for line in _lines_of(answer["explanation"]) if line["key"] == "f.coin")
        self.hear(where, "lowest", about, self.money(D(lowest["value"])))
        # its margin has four decimals; rounding that again could give another tenth of a percent
        margin = D(found["profit"]) / (D(found["total"]) - D(found["tax"]))
        assert margin.quantize(D("0.0001"), ROUND_HALF_UP) == D(found["margin"])
        self.hear(where, "margin", about, percent(margin, self.shop))
        self.hear(where, "total", about, self.money(D(found["total"])))

    def cost(self, design: Design, channel: Channel, made: int, bought: int) -> None:
        """The cost page."""
        about = (design, channel, made, bought)
        question = {"quantity": made, "bought_at_once": bought, "channel": channel.pk}
        figures = self.page("cost", design.pk, **question).context["figures"]
        by_label = {figure.label: figure.value_text for figure in figures}
        self.hear("cost page", "worked out", about, by_label["Suggested price"])
        self.hear("cost page", "lowest", about, by_label["Lowest price"])
        self.hear("cost page", "margin", about, by_label["Margin"])
        self.hear("cost page", "cost", about, by_label["Cost"])
        if made > 1:
            self.hear("cost page", "total", about, by_label["Total"])

    def quantities(self, design: Design, channel: Channel) -> None:
        """The quantities side by side below the cost page, as they are written."""
        page = self.page("cost_quantities", design.pk, quantity=1, channel=channel.pk)
        html = page.content.decode()
        for row in page.context["rows"]:
            about = (design, channel, row["quantity"], usually(channel, row["quantity"]))
            if row["quantity"] not in QUANTITIES:
                continue
            here = html[html.index(f">{row['quantity']}</a>") :]
            cells = re.findall(r'data-label="([^"]+)">([^<]*)<', here[: here.index("</tr>")])
            written = dict(cells)
            self.hear("other quantities", "cost", about, written["Cost each"])
            self.hear("other quantities", "lowest", about, written["Lowest price"])
            self.hear("other quantities", "worked out", about, written["Suggested price"])
            self.hear("other quantities", "total", about, written["Total"])

    def every_quantity(self, design: Design, channel: Channel) -> None:
        """Every quantity: what is worked out for each, and the rows shown."""
        steps = ",".join(map(str, QUANTITIES))
        asked = {"quantity": 1, "up_to": max(QUANTITIES), "steps": steps, "channel": channel.pk}
        context = self.page("quantities", design.pk, **asked).context
        for row in context["rows"]:
            about = (design, channel, row.quantity, row.quantity)
            self.hear("quantities", "worked out", about, self.money(row.worked_out_each))
            self.hear("quantities", "cost", about, self.money(row.cost_each))
            self.hear("quantities", "lowest", about, self.money(row.floor_each))

    def what_if(self, design: Design, channel: Channel, made: int, bought: int) -> None:
        """What if nothing changes: both lowest prices of the page."""
        about = (design, channel, made, bought)
        question = {"quantity": made, "bought_at_once": bought, "channel": channel.pk}
        context = self.page("what_if", design.pk, **question).context
        rows = {row["label"]: row for row in context["rows"]}
        for moment in ("now", "then"):
            self.hear(f"what if, {moment}", "worked out", about, rows["Price each"][moment])
            self.hear(f"what if, {moment}", "lowest", about, rows["Lowest price"][moment])
            self.hear(f"what if, {moment}", "cost", about, rows["Cost each"][moment])
        floors = {figure.label: figure.value_text for figure in context["floors"]}
        self.hear("what if, how far down", "lowest", about, floors["Lowest price"])
        first = {figure.label: figure for figure in context["figures"]}
        self.hear("what if", "margin", about, first["Margin at today's price"].value_text)

    def comparison(self, design: Design, quantity: int, channels: list[Channel]) -> None:
        """All channels side by side, each at its own price."""
        context = self.page("design_channels", design.pk, quantity=quantity).context
        by_name = {channel.name: channel for channel in channels}
        for row in context["own_prices"]:
            channel = by_name[row["channel"]]
            about = (design, channel, quantity, usually(channel, quantity))
            self.hear("channels", "worked out", about, row["hers"])
            self.hear("channels", "margin", about, row["margin"])

    def customer_sheet(
        self, design: Design, channel: Channel, quantity: int, listed: PriceListEntry | None
    ) -> None:
        """The sheet for the customer: the list's price, else what is worked out."""
        question = {"quantity": quantity, "bought_at_once": quantity, "channel": channel.pk}
        told = self.page("for_customer", design.pk, **question).context["told"]
        about = (design, channel, quantity)
        self.hear("customer's sheet", "asked", about, told["price_each"])
        if listed is None:
            about = (design, channel, quantity, quantity)
            self.hear("customer's sheet", "worked out", about, told["price_each"])

    def quote(
        self, version: DesignVersion, channel: Channel, quantity: int, listed: PriceListEntry | None
    ) -> None:
        """A draft of one line: price, lowest price, margin, what is worked out."""
        quote = make_quote(self.shop, customer=self.customer, channel=channel)
        make_line(quote, version, quantity)
        context = self.page("quote", quote.pk).context
        (line,) = context["lines"]
        self.hear("quote", "asked", (version.design, channel, quantity), line["each_text"])
        about = (version.design, channel, quantity, quantity)
        self.hear("quote", "lowest", about, line["floor_text"])
        self.hear("quote", "worked out", about, line["target_text"])
        if listed is None:
            self.hear("quote", "margin", about, line["margin_text"])
            self.hear("quote", "total", about, line["amount_text"])

    # --- the list and its papers ---

    def lists(self, channels: list[Channel]) -> None:
        """The price list as page and PDF, the tags, and what is said of each price's truth."""
        rows = self.page("price_list").context["table"].data
        for entry in PriceListEntry.objects.current().in_use().with_items():
            about = (entry_name(entry), entry.channel, entry.bought_at_once)
            self.hear("list", "listed", about, self.money(entry.price))
            assert any(row.pk == entry.pk for row in rows.data)
            context = self.page("price_review_decide", entry.pk).context
            self.hear("price decision", "listed", about, context["row"]["price"])
            if context["row"].get("is_enough"):
                assert context["row"]["needed"] == context["row"]["price"]
        for channel in channels:
            self.tags(channel)

    def printed_list(self, design: Design, channel: Channel, listed: list[PriceListEntry]) -> None:
        """The list as a customer holds it in hand."""
        if not listed:
            return
        address = reverse("pricing:quantities_pdf", args=[self.shop.slug, design.pk])
        pdf = self.client.get(f"{address}?channel={channel.pk}")
        text = _text_of(pdf.content)
        for entry in listed:
            total = self.money(entry.price * entry.bought_at_once)
            row = re.search(rf"^from {entry.bought_at_once} (\S+) (\S+)", text, re.MULTILINE)
            about = (design.name, channel, entry.bought_at_once)
            self.hear("printed list", "listed", about, row[1] if row else "nothing")
            assert row
            assert row[2] == total

    def tags(self, channel: Channel) -> None:
        """The tags of everything with a price in the channel."""
        address = reverse("pricing:tag_sheet", args=[self.shop.slug])
        page = self.client.get(address, {"channel": channel.pk}).context
        items = [item for item in page["items"] if item.entry is not None]
        data = {
            "sheet": next(iter(page["form"].geometries)), "start_at": "1",
            "channel": channel.pk, "tags-TOTAL_FORMS": len(items), "tags-INITIAL_FORMS": 0,
        }  # fmt: skip
        for place, item in enumerate(items):
            data |= {f"tags-{place}-design": item.name, f"tags-{place}-count": 1}
        if not items:
            return
        text = _text_of(self.client.post(address, data).content)
        for item in items:
            assert self.money(item.entry.price) in text, item.name
            # one buyer usually takes so many, and the price is that of the list for them
            about = (item.name, channel, item.entry.bought_at_once)
            self.hear("tags", "listed", about, self.money(item.entry.price))

    def thresholds(self) -> None:
        """One threshold is written one way."""
        shop = self.shop
        repricing = self.page("price_review").content.decode()
        design = Design.objects.of(shop).filter(runs__isnull=False).first()
        timings = self.page("design_times", design.pk).content.decode()
        for where, html in (("price_review", repricing), ("timings", timings)):
            found = re.findall(r"(?:more than|over) ([\d.]+%)", html)
            assert percent(shop.timing_share, shop, 2) in found, (where, found)


def _lines_of(line: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield line
    for inner in line["lines"]:
        yield from _lines_of(inner)


def _text_of(pdf: bytes) -> str:
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        return "\n".join(page.extract_text() for page in opened.pages)


def test_pages_papers_and_commands_say_the_same_of_every_price(demo, monkeypatch):
    # what a worker would make is the same, but nobody works here
    monkeypatch.setattr(services, "MOST_SIZE_AT_ONCE", 10**9)
    monkeypatch.setattr(services, "MOST_NEW_PLANS_AT_ONCE", 10**9)
    shop, client = demo, Client()
    client.force_login(User.objects.get(email=DEMO_EMAIL))
    walk = Walk(shop, client)
    channels = list(Channel.objects.of(shop).in_use().with_tiers().in_order())
    versions = [
        DesignVersion.objects.with_recipe().filter(design=design).newest_first().first()
        for design in Design.objects.of(shop).in_use().by_name()
    ]
    # each design in some of the channels, and each channel with some of the designs
    some = tries(2, thorough=len(channels))
    for place, version in enumerate(versions):
        design, item = version.design, item_of(version, "", {})
        for quantity in QUANTITIES:
            walk.comparison(design, quantity, channels)
        for channel in (channels[(place + n) % len(channels)] for n in range(some)):
            listed = price_book(channel, [design.pk]).prices_of(version, item)
            walk.quantities(design, channel)
            walk.every_quantity(design, channel)
            walk.printed_list(design, channel, listed)
            for quantity in sorted({*QUANTITIES, *(row.bought_at_once for row in listed)}):
                holds = price_book(channel, [design.pk]).price_for(version, item, quantity)
                for bought in sorted({quantity, usually(channel, quantity)}):
                    walk.command(design, channel, quantity, bought)
                    walk.cost(design, channel, quantity, bought)
                    walk.what_if(design, channel, quantity, bought)
                walk.customer_sheet(design, channel, quantity, holds)
                if channel.bought_at_once is None:
                    walk.quote(version, channel, quantity, holds)
                if holds is not None:
                    about = (design, channel, quantity)
                    walk.hear("list", "asked", about, walk.money(holds.price))
    walk.lists(channels)
    walk.thresholds()
    # the walk has seen every combination, by enough pages to compare
    of_prices = [key for key in walk.said if key[0] == "worked out"]
    assert len(of_prices) >= len(versions) * len(channels) * len(QUANTITIES)
    often = [key for key in of_prices if sum(map(len, walk.said[key].values())) >= 4]
    assert len(often) >= len(versions) * some * len(QUANTITIES)
    assert {key[2] for key in often} == {str(channel) for channel in channels}
    assert walk.contradictions() == []
