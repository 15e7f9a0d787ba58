"""Rows of an enquiry -> what is known of it, and the designs that would do."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from catalogue.calc.recipes.cautions import told
from catalogue.calc.recipes.recipe import Basis, Recipe
from catalogue.designs.models import Design
from catalogue.recipes.inputs import recipe_values
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.sheet_plans.services import PlanSheets, WatchedPlanner, sheet_planner
from maker.calc.refusal import Refusal
from maker.calc.units import parse_length
from maker.kept import Kept
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask, ChannelRates, WorkshopRates
from pricing.calc.enquiries.colours import split_by_colour
from pricing.calc.enquiries.wanted import too_small_by
from pricing.calc.enquiries.warnings import Recipients, warnings_of
from pricing.calc.enquiries.within_budget import Way, usual_of, way_within
from pricing.calc.orders.order import OrderedLine
from pricing.calc.orders.quote import AskedPrice, price_quote
from pricing.channels.inputs import channel_rates
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates
from pricing.costs.kept_orders import order_cost
from pricing.enquiries.kept_suggestions import suggested_content
from pricing.enquiries.models import Enquiry
from pricing.prices.inputs import PriceBook, item_of, price_book
from pricing.quotes.inputs import names_of

# designs worked out for one page; more are told
MOST_DESIGNS = 40
Lengths = tuple[Fraction, Fraction, Fraction]
_APART = re.compile(r"\s*[x×]\s*", re.IGNORECASE)
_LAST_LENGTH = re.compile(r"^.*?(\d[\d\s./½¼¾⅛⅜⅝⅞,]*)\s*(mm|cm|in|\")?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A design for an enquiry. `usual` is as it is, `way` within the budget; None where no price.

    `too_small_mm` is None where its size or the contents' is not known.
    """

    version: DesignVersion
    usual: Way | None
    way: Way | None
    too_small_mm: Fraction | None
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    choices: Mapping[str, str] = field(default_factory=dict)
    problem: str = ""

    @property
    def does(self) -> bool:
        """Whether it holds the contents, as far as that is known, and keeps to the budget."""
        return not self.too_small_mm and self.way is not None


@dataclass(frozen=True, slots=True)
class Suggested:
    """What was looked at; `left_out` designs were not, because there are too many.

    `is_proven` says whether all sheets are planned as well as can be.
    """

    suggestions: tuple[Suggestion, ...]
    quantity: int
    left_out: int = 0
    problem: str = ""
    is_proven: bool = True


# pages of enquiries: some MB each
_SUGGESTED: Kept[Suggested] = Kept(4)


def recipients_of(enquiry: Enquiry) -> Recipients:
    """Return whom it is for and what goes in."""
    return Recipients(enquiry.youngest, enquiry.is_food, enquiry.weight_g)


def lines_wanted(enquiry: Enquiry, version: DesignVersion) -> list[tuple[Colourway | None, int]]:
    """Return the lines a quote of the enquiry gets with a design, each colourway with a quantity.

    One line as in the recipe where the colours name no colourways of it. `version` comes from
    `with_recipe()`.
    """
    quantity = (enquiry.wanted or (max(len(names_of(enquiry.names)), 1),))[0]
    ways = {way.name: way for way in version.colourways.all()}
    found = split_by_colour(enquiry.colours, list(ways), quantity)
    return [(ways[name], count) for name, count in found] or [(None, quantity)]


def inside_of(version: DesignVersion) -> Lengths | None:
    """Return the outside size of what holds something, in mm: the roomiest of its folded pieces.

    Without one it is the finished size where that has three lengths; None where it has not.
    """
    roomiest: tuple[Fraction, Lengths] | None = None
    for piece in version.pieces.all():
        if piece.shape != "form":
            continue
        # only here: the library of shapes takes long to load
        from catalogue.calc.recipes.form_blank import form_pattern

        try:
            pattern = form_pattern(piece.form, piece.form_inputs, "mm")
        except (Refusal, ValueError):
            continue
        if not (pattern.outside and pattern.volume):
            continue
        if roomiest is None or pattern.volume > roomiest[0]:
            roomiest = (pattern.volume, pattern.outside)
    return roomiest[1] if roomiest else lengths_in(version.finished_size)


def lengths_in(text: str) -> Lengths | None:
    """Return the three lengths of a size as it is written: "90 x 45 x 140 mm"."""
    parts = _APART.split(text.partition(",")[0].strip())
    if len(parts) != 3:
        return None
    unit = "in" if re.search(r'in\b|"', text) else "cm" if re.search(r"cm\b", text) else "mm"
    found = []
    for part in parts:
        number = _LAST_LENGTH.match(part)
        if number is None:
            return None
        try:
            length = parse_length(number[1].strip(), "in" if unit == "in" else "mm")
        except Refusal:
            return None
        found.append(Fraction(length) * (10 if unit == "cm" else 1))
    return (found[0], found[1], found[2])


def suggestions_for(enquiry: Enquiry, channel: Channel | None) -> Suggested:
    """Return the designs in use for an enquiry, those that do first.

    Each is priced as a quote of that one line would be, by the list where it has a price. Without
    a quantity it is one. The number of queries does not grow with the designs. `enquiry` comes
    from `with_people()`, `channel` with its tiers.
    """
    return _SUGGESTED.result_of(
        lambda: suggested_content(enquiry, channel),
        lambda: _suggested(enquiry, channel),
        lambda found: found.is_proven,
    )


def _suggested(enquiry: Enquiry, channel: Channel | None) -> Suggested:
    quantity = (enquiry.wanted or (1,))[0]
    shop = enquiry.workshop
    newest = _newest_versions(shop)
    rows = DesignVersion.objects.with_recipe_values().in_bulk(newest[:MOST_DESIGNS])
    versions = {rows[pk].design_id: rows[pk] for pk in newest[:MOST_DESIGNS]}
    try:
        rates = workshop_rates(shop)
    except Refusal as refusal:
        return Suggested((), quantity, 0, refusal.message)
    book = price_book(channel, list(versions)) if channel else PriceBook()
    planner = WatchedPlanner(sheet_planner())
    asker = _Asker(enquiry, quantity, channel_rates(channel), rates, book, planner)
    found = [asker.suggestion(version) for version in versions.values()]
    found.sort(key=_best_first)
    left_out = max(0, len(newest) - MOST_DESIGNS)
    return Suggested(tuple(found), quantity, left_out, is_proven=planner.is_proven)


def _newest_versions(shop: Workshop) -> list[int]:
    """Return the newest version of each design in use, by the name of the design."""
    newest: dict[int, int] = {}
    rows = DesignVersion.objects.of(shop).filter(design__in=Design.objects.of(shop).in_use())
    for design, pk in rows.order_by("design__name", "-number").values_list("design_id", "pk"):
        newest.setdefault(design, pk)
    return list(newest.values())


def _best_first(suggestion: Suggestion) -> tuple[bool, bool, bool, int, Decimal]:
    """Put what does first; of these what changes least, then what uses most of the budget."""
    way = suggestion.way or suggestion.usual
    return (
        not suggestion.does,
        suggestion.too_small_mm is None,
        bool(suggestion.too_small_mm) or way is None,
        len(way.changes) if way else 0,
        -way.price_each if way and suggestion.does else way.price_each if way else Decimal(0),
    )


@dataclass(frozen=True, slots=True)
class _Asker:
    """Asks for the price of one item of a design, made as often as the enquiry wants."""

    enquiry: Enquiry
    quantity: int
    channel: ChannelRates
    rates: WorkshopRates
    book: PriceBook
    plan_sheets: PlanSheets

    def suggestion(self, version: DesignVersion) -> Suggestion:
        enquiry, problems = self.enquiry, list[str]()
        recipe = recipe_values(version, enquiry.workshop)
        wished = names_choice(recipe) if enquiry.wants_names else {}

        def price_of(choices: Mapping[str, str]) -> Decimal | None:
            try:
                return self._price(version, recipe, {**wished, **choices})
            except Refusal as refusal:
                problems.append(refusal.message)
                return None

        offered = [option for option in recipe.options if option.key not in wished]
        inside, contents = inside_of(version), enquiry.contents_mm
        missing = too_small_by(inside, contents) if inside and contents else None
        # what is too small is priced as it is: no option makes it larger
        usual, way = way_within(enquiry.budget_each, () if missing else offered, price_of)
        answers = {
            option.key: usual_of(option) for option in recipe.options if option.choices
        } | wished
        chosen = way or usual
        if chosen is not None:
            answers |= chosen.choices
        steps = [step for step in recipe.steps if step.when.holds(self.quantity, answers)]
        return Suggestion(
            version,
            usual,
            way,
            missing,
            warnings_of(recipients_of(enquiry), steps),
            told(recipe, answers, steps),
            wished | (chosen.choices if chosen else {}),
            problems[0] if usual is None and problems else "",
        )

    def _price(self, version: DesignVersion, recipe: Recipe, choices: Mapping[str, str]) -> Decimal:
        listed = self.book.price_for(version, item_of(version, "", choices), self.quantity)
        if listed is not None:
            return listed.price
        names = len(names_of(self.enquiry.names)) or None
        ask = Ask(
            quantity=self.quantity,
            choices=tuple(sorted(choices.items())),
            names=min(names, self.quantity) if names else None,
            bought_at_once=self.quantity,
        )
        order = order_cost([OrderedLine(recipe, ask)], self.rates, self.plan_sheets)
        quote = price_quote(order, [AskedPrice()], self.channel, self.rates)
        return quote.lines[0].price_each


def names_choice(recipe: Recipe) -> dict[str, str]:
    """Return option key -> choice key that brings work or material for names."""
    found: dict[str, str] = {}
    whens = [
        *(step.when for step in recipe.steps if step.basis is Basis.NAME),
        *(fixing.when for fixing in recipe.fixings if fixing.basis is Basis.NAME),
    ]
    for when in whens:
        if when.only_with:
            option, choice = when.only_with
            found.setdefault(option, choice)
    return found
