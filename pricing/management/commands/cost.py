"""Prints what a quantity of a design costs and what to ask for it, with every line of the sum."""

import datetime
import re
from argparse import ArgumentParser
from typing import Any

from django.utils import timezone

from catalogue.designs.models import Design
from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.refusal import Refusal
from maker.management.json_command import JsonCommand
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.calc.price.figures import explain, figures
from pricing.channels.models import Channel
from pricing.costs.inputs import supplier_terms
from pricing.costs.services import cost_and_price, ready_dates
from pricing.workshop_file.choosing import listed, the_one_meant, workshop_named

# dates a calendar of today can say something about
EARLIEST, LATEST = datetime.date(1970, 1, 1), datetime.date(2200, 1, 1)


class NotFound(Refusal):
    """The workshop has nothing of this name."""


class UnreadableAsk(Refusal):
    """What was asked for cannot be understood."""


class Command(JsonCommand):
    """Answer what the cost page answers, for scripts and checks."""

    help = "Print cost and price of a design at one quantity, with every calculation."

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """Let --version mean the design's version here, not Django's."""
        return super().create_parser(prog_name, subcommand, conflict_handler="resolve", **kwargs)

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add what can be asked; everything but design and quantity has a default."""
        parser.add_argument("design", metavar="DESIGN", help="name of the design")
        parser.add_argument("--quantity", metavar="N", required=True, help="how many to make")
        parser.add_argument(
            "--bought-at-once", metavar="N",
            help="how many one buyer takes; by default the channel's usual, or all",
        )  # fmt: skip
        parser.add_argument(
            "--from", metavar="DATE", dest="yes_on", help="date it is accepted; by default today"
        )
        parser.add_argument("--channel", metavar="C", help="sales channel; by default the first")
        parser.add_argument("--workshop", metavar="W", help="name or address of the workshop")
        parser.add_argument(
            "--option", metavar="KEY=VALUE", dest="choices", action="extend", nargs="+", default=[],
            help="an option's answer; the rest by default",
        )  # fmt: skip
        parser.add_argument(
            "--colourway", metavar="NAME", help="colourway; by default as in the recipe"
        )
        parser.add_argument(
            "--version", metavar="N", help="version of the design; by default the newest"
        )

    def answer(self, **options: Any) -> dict[str, Any]:
        """Work it out."""
        ask = Ask(
            quantity=_whole_number(options["quantity"], "quantity"),
            choices=tuple(_choice(word) for word in options["choices"]),
            bought_at_once=None
            if options["bought_at_once"] is None
            else _whole_number(options["bought_at_once"], "bought_at_once"),
        )
        design = _design(options["design"], options["workshop"])
        workshop = design.workshop
        version = _version(design, options["version"])
        answer = cost_and_price(
            version=version,
            workshop=workshop,
            ask=ask,
            channel=_channel(workshop, options["channel"]),
            colourway=_colourway(version, options["colourway"]),
        )
        if answer.price is None:
            raise answer.no_price or UnreadableAsk("There is no price.", where="channel")
        yes_on = _date(options["yes_on"]) if options["yes_on"] else timezone.localdate()
        ready = ready_dates([answer], workshop, yes_on, supplier_terms(workshop))[0]
        digits = answer.rates.currency_digits
        return {
            "figures": figures(answer.cost, answer.price, ready_on=ready.on, digits=digits),
            "explanation": explain(answer.cost, answer.price, ready.line).as_dict(),
        }


def _whole_number(word: str, where: str) -> int:
    if not re.fullmatch(r"[+-]?[0-9]{1,18}", word.strip(), re.ASCII):
        raise UnreadableAsk(f"“{word[:40]}” isn't a whole number.", where=where)
    return int(word)


def _date(word: str) -> datetime.date:
    try:
        on = datetime.date.fromisoformat(word.strip())
    except ValueError:
        on = datetime.date.min
    if not EARLIEST <= on <= LATEST:
        raise UnreadableAsk(f"“{word[:40]}” isn't a date like 2026-12-01.", where="from")
    return on


def _choice(word: str) -> tuple[str, str]:
    key, sign, value = word.partition("=")
    if not sign or not key.strip() or not value.strip():
        raise UnreadableAsk(
            f"“{word[:80]}” isn't an option's answer. Write KEY=VALUE.", where="option"
        )
    return key.strip(), value.strip()


def _design(name: str, workshop_name: str | None) -> Design:
    """Return the design; without a workshop, the only one of its name."""
    designs = Design.objects.filter(name=name).select_related("workshop")
    if workshop_name is not None:
        workshop = workshop_named(workshop_name)
        found = designs.of(workshop).first()
        if found is None:
            raise NotFound(f"{workshop} has no design “{name[:80]}”.", where="design")
        return found
    every = list(designs.order_by("workshop__is_demo", "workshop__name", "pk"))
    if not every:
        raise NotFound(f"No workshop has a design “{name[:80]}”.", where="design")
    meant = the_one_meant([row.workshop for row in every])
    if meant is None:
        which = listed([row.workshop for row in every])
        raise NotFound(
            f"Several workshops have a design “{name[:80]}”. Choose one: {which}.",
            where="workshop",
        )
    return next(row for row in every if row.workshop == meant)


def _version(design: Design, word: str | None) -> DesignVersion:
    versions = DesignVersion.objects.filter(design=design).with_recipe().newest_first()
    if word is None:
        version = versions.first()
        if version is None:
            raise NotFound(f"{design} has no version yet.", where="version")
        return version
    number = _whole_number(word, "version")
    for version in versions:
        if version.number == number:
            return version
    raise NotFound(f"{design} has no version {number}.", where="version")


def _channel(workshop: Workshop, name: str | None) -> Channel | None:
    """Return the channel of the name, else the first one, as the cost page does."""
    channels = list(Channel.objects.of(workshop).in_use().in_order().with_tiers())
    if name is None:
        return channels[0] if channels else None
    for channel in channels:
        if channel.name == name:
            return channel
    known = ", ".join(channel.name for channel in channels) or "none"
    raise NotFound(
        f"{workshop} has no channel “{name[:80]}”. Its channels: {known}.", where="channel"
    )


def _colourway(version: DesignVersion, name: str | None) -> Colourway | None:
    if name is None:
        return None
    ways = list(version.colourways.all())
    for way in ways:
        if way.name == name:
            return way
    known = ", ".join(way.name for way in ways) or "none"
    raise NotFound(
        f"{version.design} has no colourway “{name[:80]}”. Its colourways: {known}.",
        where="colourway",
    )
