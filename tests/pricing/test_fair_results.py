"""A fair kept as rows comes to the figures of the worked case, and its pages say them."""

import datetime
import json
from decimal import Decimal
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone

from pricing.calc.fair_result.fair import Worked
from pricing.calc.fairs.fair_day import in_whole_units
from pricing.calc.fairs.must_take import SoldMix, goal_of, paid_an_hour, share_of_fixed
from pricing.fairs.fair_files import read_fair
from pricing.fairs.models import Fair, FairCoin, FairCost, FairDay, FairHour, FairSale
from pricing.fairs.results import mix_before, results_of
from tests.factories import make_channel, make_recipe
from tests.pricing.fair_rows import make_fair, make_item, make_sale

CASE = Path(__file__).parents[1] / "data" / "fair_days.json"
FRIDAY = datetime.date(2026, 10, 9)


@pytest.fixture
def case():
    """The worked case, as it is written."""
    return json.loads(CASE.read_text())["inputs"]


@pytest.fixture
def thornwick(workshop, case):
    """The worked case as rows."""
    workshop.tax_registered, workshop.tax_rate = True, Decimal(case["tax"])
    workshop.wage_per_hour = Decimal(case["wage"])
    workshop.save()
    channel = make_channel(workshop, tier={"fee_share": Decimal(case["fee"]["rate"])})
    fair = Fair.objects.create(
        workshop=workshop,
        name="Thornwick green, 3 days",
        channel=channel,
        distance=38,
        rate_per_distance=Decimal(case["km_rate"]),
        prepare_hours=Decimal(case["prepare_hours"]),
        table_metres=Decimal(case["metres"]),
        orders_gain=Decimal(case["orders"]["gain"]),
        orders_share=Decimal(case["orders"]["share"]),
    )
    items = {}
    for name, design in case["designs"].items():
        items[name] = make_item(
            fair,
            make_recipe(workshop),
            price=Decimal(design["price"]),
            cost_each=Decimal(design["cost"]),
            bag_each=Decimal(design["bag"]),
            is_dated=name == "starbox",
            worth_after=Decimal(design["worth_after"]),
            handling_each=Decimal(design["handling"]),
            taken=case["taken"][name],
            brought_home=case["brought_home"][name],
        )
    for value, count in case["float"].items():
        FairCoin.objects.create(fair=fair, value=Decimal(value), count=count)
    FairCost.objects.create(fair=fair, amount=Decimal(case["stall_fee"]))
    bundle = Decimal("22.50")
    for place, written in enumerate(case["days"]):
        day = FairDay.objects.create(
            fair=fair,
            held_on=FRIDAY + datetime.timedelta(days=place),
            opens=datetime.time(10),
            closes=datetime.time(10 + int(written["stand"])),
            drive_hours=Decimal(written["drive"]),
            pack_hours=Decimal(written["pack"]),
        )
        FairCost.objects.create(
            fair=fair,
            day=day,
            kind=FairCost.Kind.PARKING,
            amount=Decimal(written["other"]),
            from_till=bool(written.get("paid_out")),
        )
        for hour, share in case["curve"].items():
            FairHour.objects.create(day=day, hour=int(hour), visitors=int(Decimal(share) * 100))
        at = timezone.make_aware(datetime.datetime.combine(day.held_on, datetime.time(11)))
        for way, lanterns, stars, bundles, times in written["sales"]:
            price = (
                lanterns * items["lantern"].price + stars * items["starbox"].price
            ) + bundles * bundle
            make_sale(
                day,
                *((items["lantern"], lanterns + 2 * bundles), (items["starbox"], stars + bundles)),
                way=way,
                payments=times,
                received=price,
                happened_at=at,
            )
        for way, name in written.get("refunds", ()):
            sale = make_sale(
                day, (items[name], 1), kind="refund", way=way, received=-items[name].price,
                happened_at=at,
            )  # fmt: skip
            sale.lines.update(came_back=True, is_spoiled=True)
        for amount in written.get("deposits_cash", ()):
            make_sale(day, kind="order", way="cash", received=Decimal(amount), happened_at=at)
        for value, count in written["count"].items():
            FairCoin.objects.create(fair=fair, day=day, value=Decimal(value), count=count)
        if "sold_out" in written:
            hour, minute = map(int, written["sold_out"]["time"].split(":"))
            moment = datetime.datetime.combine(day.held_on, datetime.time(hour, minute))
            make_sale(
                day, (items[written["sold_out"]["design"]], 0), kind="sold_out", way="none",
                received=0, happened_at=timezone.make_aware(moment),
            )  # fmt: skip
    return fair


def result_of(fair):
    (result,) = results_of(Fair.objects.filter(pk=fair.pk), fair.workshop)
    return result


def test_rows_come_to_the_figures_of_the_worked_case(thornwick):
    worked, result = Worked(read_fair(CASE.read_bytes())), result_of(thornwick)
    assert len(result.figures) == 3
    for ours, theirs in zip(result.figures, worked.days, strict=True):
        for name in (
            "card", "cash", "tax", "fees", "cost_of_items", "bags", "fixed", "hours", "missing",
            "takings", "profit", "items_sold", "payments", "refunded", "till",
        ):  # fmt: skip
            assert getattr(ours, name) == getattr(theirs, name), name
    for name in ("takings", "fees", "profit", "hours", "items_sold", "missing", "difference"):
        assert getattr(result.season, name) == getattr(worked.season, name), name
    assert list(result.missing.values()) == [1, 0]
    (sold_out,) = result.sold_out
    hidden = worked.hidden[2]
    assert hidden is not None
    assert (sold_out.demand.missed, sold_out.demand.share_gone) == (
        hidden[0].missed,
        hidden[0].share_gone,
    )
    ours, theirs = result.outcome, worked.outcomes[0]
    for name in ("profit_per_hour", "fixed_share", "profit_per_metre", "per_hour_with_orders"):
        assert getattr(ours, name) == getattr(theirs, name), name
    assert ours.again(result.wage) == theirs.again(worked.fair.wage)


def test_money_shared_over_items_is_all_the_money_there_was(thornwick):
    result = result_of(thornwick)
    assert sum(each.takings for each in result.by_item) == result.season.takings
    # every item lost money here: its gain is before the stall, so none of these
    assert [each.loses for each in result.by_item] == [False, False]


def left_of_items(result):
    """What all items left, with what left-over dated ones lost put back."""
    lost = sum(
        (each.item.brought_home or 0) * result.one_more[each.item.pk].loss
        for each in result.by_item
        if each.item.is_dated
    )
    return sum(each.gain for each in result.by_item) + lost


def in_cents(amount):
    return amount.quantize(Decimal("0.01"), rounding="ROUND_HALF_UP")


def test_what_items_left_is_what_the_days_left_to_the_cent(thornwick):
    result = result_of(thornwick)
    assert left_of_items(result) == in_cents(result.season.left_before_fixed)


def test_an_item_pays_the_fee_of_each_payment_as_the_day_does(workshop):
    channel = make_channel(workshop, tier={"fee_share": Decimal("0.0169")})
    fair = make_fair(workshop, channel=channel)
    make_sale(fair.days.get(), (make_item(fair, make_recipe(workshop)), 1), way="card", payments=12)
    result = result_of(fair)
    (day,), (item,) = result.figures, result.by_item
    # 6.50 x 1.69 % = 0.10985, so 12 x 0.11 and not 1.3182
    assert day.fees == Decimal("1.32")
    assert item.gain == day.left_before_fixed == 12 * Decimal("3.03") - Decimal("1.32")


def test_swaps_refunds_and_what_was_not_booked_are_in_what_items_left(workshop):
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.2")
    workshop.save()
    channel = make_channel(
        workshop, tier={"fee_share": Decimal("0.0169"), "fixed_fee": Decimal("0.05")}
    )
    fair = make_fair(workshop, channel=channel, days=3)
    bag = make_item(fair, make_recipe(workshop), cost_each=Decimal("3.4125"))
    box = make_item(fair, make_recipe(workshop), price=Decimal(9))
    for day in fair.days.all():
        make_sale(day, (bag, 2), (box, 1), way="card", payments=7, received=Decimal("19.99"))
        swap = make_sale(day, (bag, 1), (box, 1), kind="swap", way="card", received=Decimal("2.50"))
        swap.lines.filter(item=bag).update(came_back=True)
        back = make_sale(day, (bag, 1), kind="refund", received=-bag.price)
        back.lines.update(came_back=True)
    result = result_of(fair)
    assert sum(each.takings for each in result.by_item) == result.season.takings
    assert left_of_items(result) == in_cents(result.season.left_before_fixed)
    # a box for a bag and the difference: the box took its price, the bag gave its own back
    swapped = make_fair(workshop, channel=channel)
    bag, box = (make_item(swapped, each.version, price=each.price) for each in (bag, box))
    swap = make_sale(swapped.days.get(), (bag, 1), (box, 1), kind="swap", received=Decimal("2.50"))
    swap.lines.filter(item=bag).update(came_back=True)
    assert [each.takings for each in result_of(swapped).by_item] == [Decimal("-6.50"), 9]
    # what could not be booked is of no item, and no item's takings change by it
    make_sale(swapped.days.get(), received=Decimal("4.20"), problem="It does not say which items.")
    result = result_of(swapped)
    assert result.season.takings == Decimal("6.70")
    assert [each.takings for each in result.by_item] == [Decimal("-6.50"), 9]


@pytest.mark.parametrize(
    ("total", "parts", "rounded"),
    [
        ("1.00", ("0.334", "0.333", "0.333"), ("0.34", "0.33", "0.33")),
        ("0.00", ("-0.005", "0.005"), ("0.00", "0.00")),
        ("-1.01", ("-3.333", "2.326"), ("-3.33", "2.32")),
        ("0.05", ("0.011", "0.012"), ("0.02", "0.03")),
        ("-0.03", ("0.00", "0.00"), ("-0.01", "-0.02")),
    ],
)
def test_parts_are_rounded_to_their_total(total, parts, rounded):
    found = in_whole_units(Decimal(total), [Decimal(part) for part in parts])
    assert list(found) == [Decimal(each) for each in rounded]


def test_no_parts_are_none():
    assert list(in_whole_units(Decimal(0), [])) == []


@pytest.mark.parametrize(
    ("amount", "gain", "items"), [("60.20", "3.59", 17), ("0", "3.59", 0), ("-5", "3.59", 0)]
)
def test_what_it_must_take(amount, gain, items):
    # 60.20 of costs at 3.59 an item: 17, as the day of the trade handbook in the issue has it
    goal = goal_of(Decimal(amount), SoldMix(Decimal(10), Decimal(gain)), Decimal(5))
    assert (goal.items, goal.takings, goal.items_an_hour) == (items, 10 * items, Decimal(items) / 5)


@pytest.mark.parametrize(("fixed", "wage"), [("66.08", "14.50"), ("0", "9"), ("130", "0")])
def test_an_hour_pays_the_wage_from_the_goal_on(fixed, wage):
    mix, hours = SoldMix(Decimal("7.99"), Decimal("2.40")), Decimal(22)
    goal = goal_of(Decimal(fixed) + Decimal(wage) * hours, mix, Decimal(15))
    assert paid_an_hour(goal.items, mix, Decimal(fixed), hours) >= Decimal(wage)
    assert paid_an_hour(goal.items - 1, mix, Decimal(fixed), hours) < Decimal(wage)
    assert paid_an_hour(goal.items, mix, Decimal(fixed), Decimal(0)) is None


def test_no_number_of_items_pays_when_each_one_loses():
    assert goal_of(Decimal(10), SoldMix(Decimal(3), Decimal(0)), Decimal(5)) is None
    assert share_of_fixed(Decimal(130), 0) is None
    assert share_of_fixed(Decimal(130), 65) == 2


def test_the_mix_to_go_by_is_that_of_the_same_fair_before(thornwick, workshop):
    other = make_fair(workshop, name="Harrow mill market")
    item = make_item(other, make_recipe(workshop), price=Decimal(20), cost_each=Decimal(1))
    make_sale(other.days.get(), (item, 2))
    again = make_fair(workshop, name="Thornwick next year", last_year=thornwick)
    results = results_of(Fair.objects.of(workshop), workshop)
    before = next(each for each in results if each.fair.pk == thornwick.pk)
    mix, said = mix_before(results, again)
    assert mix == before.mix
    assert "Thornwick" in said
    again.last_year = None
    mixed, said = mix_before(results, again)
    assert said == "as sold at your other fairs"
    assert mixed.price_each == (before.season.takings + 40) / (before.season.items_sold + 2)


def test_before_a_fair_its_page_says_what_an_hour_pays_if_as_much_sells(
    client, thornwick, workshop
):
    before = result_of(thornwick)
    again = make_fair(workshop, name="Thornwick next year", last_year=thornwick)
    address = reverse("pricing:fair", args=[workshop.slug, again.pk])
    page = client.get(address).content.decode()
    result = result_of(again)
    hour = (before.season.left_before_fixed - result.fixed) / result.hours
    said = f"If {before.season.items_sold} items sell as last time, an hour pays €{hour:.2f}"
    assert said in page
    # after it, only what came of it
    item = make_item(again, make_recipe(workshop))
    make_sale(again.days.get(), (item, 1))
    assert "sell as last time" not in client.get(address).content.decode()


def test_what_came_back_to_be_sold_again_costs_nothing(workshop):
    fair = make_fair(workshop)
    item = make_item(fair, make_recipe(workshop), taken=10, brought_home=8)
    day = fair.days.get()
    make_sale(day, (item, 3))
    back = make_sale(day, (item, 1), kind=FairSale.Kind.REFUND, received=-item.price)
    back.lines.update(came_back=True)
    result = result_of(fair)
    assert result.season.cost_of_items == 2 * item.cost_each
    assert result.season.takings == 2 * item.price
    assert result.missing == {str(item.pk): 0}


@pytest.mark.parametrize(
    ("way", "card", "cash"), [("card", "7.00", "5.00"), ("cash", "10.00", "2.00")]
)
def test_money_paid_back_for_nothing_known_leaves_the_way_it_was_paid(workshop, way, card, cash):
    """A refund that could not be booked has no item; its money counts, and earns no fee back."""
    tier = {"fee_share": Decimal("0.02"), "fixed_fee": Decimal("0.25")}
    fair = make_fair(workshop, channel=make_channel(workshop, tier=tier))
    day, item = fair.days.get(), make_item(fair, make_recipe(workshop))
    make_sale(day, (item, 1), way="card", received=Decimal(10))
    make_sale(day, (item, 1), way="cash", received=Decimal(5))
    make_sale(
        day,
        kind=FairSale.Kind.REFUND,
        way=way,
        received=Decimal(-3),
        problem="Not sold on this day.",
    )
    (result,) = results_of(Fair.objects.filter(pk=fair.pk), workshop)
    (figures,) = result.figures
    assert (figures.card, figures.cash) == (Decimal(card), Decimal(cash))
    assert figures.till.expected == figures.till.float_amount + Decimal(cash)
    assert result.card_payments(0) == Decimal(card)
    # 2 % of 10.00 and 0.25, for one payment
    assert (figures.fees, figures.payments) == (Decimal("0.45"), 1)
    assert figures.refunded == 3


def test_given_broken_swapped_and_undone(workshop):
    fair = make_fair(workshop)
    bag = make_item(fair, make_recipe(workshop), taken=10, brought_home=9)
    box = make_item(fair, make_recipe(workshop), price=Decimal(9), taken=5, brought_home=4)
    day = fair.days.get()
    make_sale(day, (bag, 1), kind=FairSale.Kind.GIVEN, way="none", received=0)
    make_sale(day, (bag, 1), kind=FairSale.Kind.BROKEN, way="none", received=0)
    make_sale(day, (bag, 1))
    make_sale(day, (box, 4), undone_at=timezone.now())
    swap = make_sale(day, (bag, 1), (box, 1), kind="swap", received=Decimal("2.50"))
    swap.lines.filter(item=bag).update(came_back=True)
    result = result_of(fair)
    assert result.season.takings == bag.price + Decimal("2.50")
    assert result.season.missing == 2 * bag.cost_each - bag.cost_each  # one more came home
    assert result.missing == {str(bag.pk): -1, str(box.pk): 0}
    assert result.by_item[0].lost == 2


def test_a_till_nobody_counted_is_neither_over_nor_short(workshop):
    fair = make_fair(workshop)
    make_sale(fair.days.get(), (make_item(fair, make_recipe(workshop)), 1))
    assert result_of(fair).season.difference == 0


def test_pages_say_what_the_fair_came_to(client, workshop, thornwick):
    page = client.get(reverse("pricing:fair", args=[workshop.slug, thornwick.pk]))
    text = page.content.decode()
    assert "2.32" in text
    assert "1.50 short" in text
    assert "1.00" in text
    assert 'class="badge alarm">No<' in text
    listed = client.get(reverse("pricing:fair_list", args=[workshop.slug])).content.decode()
    assert "Thornwick green" in listed
    assert "<svg" in listed
    day = thornwick.days.in_order().first()
    till = client.get(reverse("pricing:fair_day", args=[workshop.slug, thornwick.pk, day.pk]))
    assert "84.50" in till.content.decode()


def test_more_sales_cost_no_more_queries(
    client, workshop, thornwick, django_assert_max_num_queries
):
    address = reverse("pricing:fair", args=[workshop.slug, thornwick.pk])
    with django_assert_max_num_queries(60) as few:
        client.get(address)
    day, item = thornwick.days.in_order().last(), thornwick.designs.first()
    for _ in range(40):
        make_sale(day, (item, 1))
    with django_assert_max_num_queries(len(few)):
        client.get(address)
