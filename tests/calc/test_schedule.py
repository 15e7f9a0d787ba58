"""Work laid on dates: against a second way of laying it, every way of doing it, and its laws."""

import datetime
import random
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.calc.schedule.calendar import CountedDays, NoDatesToCount, WorkCalendar
from pricing.calc.schedule.changes import best_of, changes_of, first_in_time
from pricing.calc.schedule.dates import earliest_dates, latest_dates
from pricing.calc.schedule.job import (
    Block,
    Cap,
    Delivery,
    NoTimeToWork,
    Promise,
    Supply,
    with_caps_doubled,
)
from pricing.calc.schedule.laying import Plan, lay_promises, together_by_date
from tests.calc.schedules import (
    EVERY_DAY,
    ONE_DAY,
    TODAY,
    after,
    bench,
    can_be_done_from,
    chain,
    job_of,
    latest_start,
    limit_of,
    promise,
)


def random_bench(dice):
    minutes = [dice.choice([0, 1, 2, 3]) for _ in range(7)]
    minutes[dice.randrange(7)] = 2
    return bench(
        minutes,
        [after(dice.randrange(25)) for _ in range(dice.randrange(4))],
        {after(dice.randrange(25)): dice.randrange(4) for _ in range(dice.randrange(3))},
        buffer_days=dice.randrange(3),
    )


def random_job(dice, deliveries, blocks=2, setup=True):
    cap = dice.choice([None, 1, 2])
    due = sorted(after(dice.randrange(18, 34)) for _ in range(deliveries))
    return job_of(
        *(
            chain(
                *(dice.randrange(1, 5) for _ in range(blocks)),
                cap=cap,
                setup=dice.randrange(3) if setup and place == 0 else 0,
                due=on,
                transit=dice.randrange(3),
            )
            for place, on in enumerate(due)
        )
    )


@pytest.mark.parametrize(
    ("deliveries", "blocks", "cases"), [(1, 1, 40), (1, 3, 40), (2, 2, 60), (3, 2, 12), (4, 1, 30)]
)
def test_the_latest_start_is_that_of_the_best_order_laid_minute_by_minute(
    deliveries, blocks, cases
):
    for seed in range(cases):
        dice = random.Random(seed)
        job_bench, job = random_bench(dice), random_job(dice, deliveries, blocks)
        found = latest_dates(job, job_bench, (), TODAY)
        assert found.start_on == latest_start(job, job_bench), seed


def test_one_delivery_cannot_start_later_whatever_way_its_minutes_are_spread():
    for seed in range(60):
        dice = random.Random(seed)
        job_bench, job = (
            random_bench(dice),
            random_job(dice, 1, dice.choice([1, 2, 3]), setup=False),
        )
        start = latest_dates(job, job_bench, (), TODAY).start_on
        assert can_be_done_from(job, job_bench, start), seed
        assert not can_be_done_from(job, job_bench, start + ONE_DAY), seed


def test_two_deliveries_start_when_they_can_and_never_later_than_any_way_allows():
    best = 0
    for seed in range(40):
        dice = random.Random(seed)
        job_bench, job = random_bench(dice), random_job(dice, 2, setup=False)
        start = latest_dates(job, job_bench, (), TODAY).start_on
        assert can_be_done_from(job, job_bench, start), seed
        best += not can_be_done_from(job, job_bench, start + ONE_DAY)
    assert best >= 36  # whole blocks in an order, not minutes mixed at will: rarely a date earlier


@st.composite
def schedules(draw, promised=True):
    dice = random.Random(draw(st.integers(0, 10**9)))
    job_bench = random_bench(dice)
    job = random_job(dice, dice.choice([1, 1, 2, 3]), dice.choice([1, 2, 3]))
    if dice.random() < 0.5:
        job = replace(
            job, supplies=(Supply("card", dice.randrange(6)), Supply("film", dice.randrange(6)))
        )
    if dice.random() < 0.5:
        named = tuple(
            replace(each, blocks=(*each.blocks[:-1], replace(each.blocks[-1], after_proof=True)))
            for each in job.deliveries
        )
        job = replace(job, deliveries=named, proof_days=dice.randrange(5))
    promises = []
    if promised:
        promises = [
            promise(dice.randrange(8), after(dice.randrange(4, 30)))
            for _ in range(dice.randrange(3))
        ]
    return job, job_bench, promises


@given(schedules())
@settings(max_examples=150)
def test_what_is_laid_keeps_every_rule(made):
    job, job_bench, promises = made
    calendar = job_bench.calendar
    latest = latest_dates(job, job_bench, promises, TODAY)
    early = earliest_dates(job, job_bench, promises, TODAY)
    assert early.deliveries is not None
    for found in (latest, early):
        assert sum(minutes for _, minutes in found.laid) == job.minutes
        promised = dict(found.promised)
        for on, minutes in found.laid:
            assert minutes > 0
            assert minutes + promised.get(on, 0) <= calendar.minutes_on(on)
        asked = sum(each.minutes for each in promises)
        assert sum(promised.values()) + found.promised_left == asked
        assert all(calendar.minutes_on(on) and on > TODAY for on in promised)
        for place, delivery in enumerate(job.deliveries):
            spans = [found.spans[place, at] for at in range(len(delivery.blocks))]
            for one, next_one, block in zip(spans, spans[1:], delivery.blocks, strict=False):
                assert next_one.first >= one.last + block.nights * ONE_DAY
            for span, block in zip(spans, delivery.blocks, strict=True):
                assert sum(minutes for _, minutes in span.laid) == block.all_minutes
        racks = {}
        for (place, at), span in found.spans.items():
            block = job.deliveries[place].blocks[at]
            for on, minutes in span.laid if block.caps and not block.setup_minutes else ():
                racks[on] = racks.get(on, 0) + minutes * block.caps[0].share
        assert all(room <= 1 for room in racks.values())
    for place, delivery in enumerate(job.deliveries):
        last = latest.spans[place, len(delivery.blocks) - 1].last
        assert last <= limit_of(job_bench, delivery)
        done = early.spans[place, len(delivery.blocks) - 1].last
        dates = early.deliveries[place]
        assert done == dates.ready_on < dates.handed_over_on <= dates.arrives_on
        between = [done + n * ONE_DAY for n in range(1, (dates.handed_over_on - done).days)]
        empty = [on for on in between if calendar.minutes_on(on)]
        assert len(empty) >= job_bench.buffer_days


@given(schedules(promised=False))
@settings(max_examples=150)
def test_a_yes_on_the_last_date_is_in_time_and_the_earliest_is_not_after_the_latest(made):
    job, job_bench, _ = made
    # one delivery; its due date is one on which the carrier comes
    only = job.deliveries[0]
    due_on = job_bench.carrier_days.last_until(only.due_on)
    job = replace(job, deliveries=(replace(only, due_on=due_on),))
    latest = latest_dates(job, job_bench, (), TODAY)
    early = earliest_dates(job, job_bench, (), latest.yes_on)
    assert early.deliveries[0].arrives_on <= job.deliveries[0].due_on
    for key, span in early.spans.items():
        assert span.last <= latest.spans[key].last
    if job.supplies:
        assert latest.yes_to_buy_on < latest.start_on
    too_late = earliest_dates(job, job_bench, (), latest.start_on)
    assert too_late.deliveries[0].arrives_on > job.deliveries[0].due_on or (
        too_late.spans[0, 0].first > latest.start_on
    )


@given(schedules())
@settings(max_examples=60)
def test_a_change_never_takes_dates_away(made):
    job, job_bench, promises = made
    latest = latest_dates(job, job_bench, promises, TODAY)
    changes = changes_of(job, job_bench, promises, TODAY, latest)
    assert [each.key for each in changes] == ["lead", "proof", "rack", "hour", "buffer", "transit"]
    if latest.yes_on is None:
        assert all(each.gain is None for each in changes)
    elif not promises:
        assert all(each.gain >= 0 for each in changes if each.key != "rack")
        assert best_of(changes)


def test_with_nothing_to_buy_only_the_work_binds():
    job = job_of(chain(2, 2, due=datetime.date(2026, 3, 20)))
    found = latest_dates(job, bench(), (), TODAY)
    assert (found.yes_to_buy_on, found.yes_for_proof_on, found.slowest) == (None, None, None)
    assert found.yes_on == found.yes_to_start_on == found.start_on - ONE_DAY
    assert found.binding == ("work",)
    early = earliest_dates(job, bench(), (), TODAY)
    assert (early.bought_on, early.approved_on) == (None, None)
    assert early.spans[0, 0].first == after(1)


def test_only_the_slowest_of_what_is_short_counts_by_its_own_suppliers_days():
    fair = frozenset({datetime.date(2026, 3, 12)})
    supplies = (
        Supply("card", 5, "Near"),
        Supply("film", 4, "Far", CountedDays(holidays=fair | {datetime.date(2026, 3, 13)})),
    )
    job = job_of(chain(1, due=datetime.date(2026, 3, 18)), supplies=supplies)
    found = latest_dates(job, bench((9,) * 7, buffer_days=0), (), TODAY)
    assert found.start_on == datetime.date(2026, 3, 17)
    # card: five weekdays before Monday 16 March; film: four without the 12th and 13th
    assert found.yes_to_buy_on == datetime.date(2026, 3, 6)
    assert found.slowest.name == "film"
    early = earliest_dates(job, bench((9,) * 7), (), datetime.date(2026, 3, 7))
    assert (early.bought_on, early.slowest.name) == (datetime.date(2026, 3, 17), "film")


def test_drying_after_the_last_work_is_waited_for():
    block = Block("press", 2, nights=2)
    job = job_of(Delivery("one", (block,), after(11)))
    early = earliest_dates(job, bench((2,) * 7), (), TODAY)
    assert early.spans[0, 0].last == after(1)
    assert early.deliveries[0].ready_on == early.deliveries[0].handed_over_on == after(3)
    found = latest_dates(job, bench((2,) * 7), (), TODAY)
    assert found.handed_over_on[0] == after(11)
    assert found.spans[0, 0].last == after(9)


def test_a_rack_of_parts_of_minutes_takes_no_date_more_than_its_items_need():
    # 30 items in 100 minutes, ten a date: three dates, though a third of 100 is no whole number
    cap = Cap("rack", Fraction(30, 10 * 100))
    job = job_of(Delivery("one", (Block("glue", 100, caps=(cap,), nights=0),), after(20)))
    early = earliest_dates(job, bench((300,) * 7), (), TODAY)
    assert [minutes for _, minutes in early.laid] == [34, 34, 32]


def test_deliveries_share_a_rack():
    job = job_of(
        chain(4, cap=2, due=after(10)), chain(4, cap=2, due=after(10)), chain(4, due=after(10))
    )
    early = earliest_dates(job, bench((9,) * 7), (), TODAY)
    assert [early.spans[place, 0].last for place in range(3)] == [after(2), after(4), after(1)]


def test_promised_work_moves_away_but_not_past_its_due_date():
    free = bench((2,) * 7)
    job = job_of(chain(4, due=after(6)))
    found = latest_dates(job, free, [promise(4, after(6))], TODAY)
    assert found.promised_left == 0
    assert [on for on, _ in found.promised] == [after(2), after(3)]
    assert found.yes_on == after(3)


def test_promised_minutes_without_a_place_leave_no_last_date():
    found = latest_dates(
        job_of(chain(4, due=after(6))), bench((2,) * 7), [promise(8, after(6))], TODAY
    )
    assert found.promised_left == 2
    assert (found.yes_on, found.binding) == (None, ())
    assert found.start_on == after(4)


def test_the_last_date_is_earlier_where_that_keeps_promised_work():
    # the rack holds one minute of ours a date; laid first the small delivery starts later, but then
    # the larger one takes minutes before the promised work is due
    kept, moved = 0, 0
    for seed in range(400):
        dice = random.Random(seed)
        job_bench, job = random_bench(dice), random_job(dice, 2)
        promises = [promise(dice.randrange(1, 14), after(dice.randrange(8, 24)))]
        found = latest_dates(job, job_bench, promises, TODAY)
        alone = latest_dates(job, job_bench, (), TODAY)
        if found.yes_on is not None:
            assert found.promised_left == 0
            assert found.yes_on <= alone.yes_on
            kept += 1
            moved += found.start_on < alone.start_on
        else:
            assert found.promised_left > 0
    assert kept > 50
    assert moved


def test_the_earliest_dates_leave_room_for_what_is_promised():
    early = earliest_dates(job_of(chain(2)), bench((2,) * 7), [promise(6, after(4))], TODAY)
    assert [on for on, _ in early.promised] == [after(1), after(2), after(3)]
    assert early.deliveries[0].ready_on == after(4)


def test_beyond_four_deliveries_blocks_are_laid_by_due_date():
    job = job_of(*(chain(1, 1, due=after(20 + place)) for place in (4, 0, 3, 1, 2)))
    found = latest_dates(job, bench((1,) * 7), (), TODAY)
    assert [place for place, _ in found.order[::2]] == [0, 2, 4, 3, 1]
    assert sum(minutes for _, minutes in found.laid) == 10


def test_four_deliveries_are_tried_in_every_order_in_a_moment():
    job = job_of(*(chain(300, 200, cap=60, due=after(40 + place)) for place in range(4)))
    found = latest_dates(job, bench((120, 120, 0, 120, 120, 60, 0)), (), TODAY)
    assert sum(minutes for _, minutes in found.laid) == 2000


def test_the_least_that_is_in_time():
    def job(left_out):
        return job_of(chain(10 - left_out, due=after(6)))

    last = latest_dates(job(0), bench((2,) * 7), (), TODAY).yes_on
    assert first_in_time(job, 9, bench((2,) * 7), (), TODAY, last) == 0
    assert first_in_time(job, 9, bench((2,) * 7), (), TODAY, last + ONE_DAY) == 2
    assert first_in_time(job, 9, bench((2,) * 7), (), TODAY, after(6)) is None


def test_without_hours_on_any_weekday_nothing_is_promised():
    with pytest.raises(NoTimeToWork, match="You have no working hours"):
        latest_dates(job_of(chain(1, due=after(9))), bench((0,) * 7), (), TODAY)
    with pytest.raises(NoTimeToWork):
        earliest_dates(job_of(chain(1)), bench((0,) * 7), (), TODAY)


def test_work_that_finds_no_place_for_years_is_told():
    huge = job_of(chain(10_000, due=after(20)))
    assert latest_dates(huge, bench((1,) * 7), (), TODAY).yes_on is None
    assert earliest_dates(huge, bench((1,) * 7), (), TODAY).deliveries is None


def test_a_date_off_stays_off_and_other_hours_hold_for_their_date():
    calendar = WorkCalendar((60,) * 5 + (0, 0), frozenset({TODAY}), {TODAY: 90, after(5): 30})
    assert [calendar.minutes_on(after(n)) for n in (0, 1, 5, 6)] == [0, 60, 30, 0]
    longer = replace(calendar, added_minutes=60)
    assert [longer.minutes_on(after(n)) for n in (0, 1, 5, 6)] == [0, 120, 90, 0]


def test_counted_days():
    assert CountedDays().after(datetime.date(2026, 3, 6), 1) == datetime.date(2026, 3, 9)
    assert CountedDays().before(datetime.date(2026, 3, 9), 1) == datetime.date(2026, 3, 6)
    assert EVERY_DAY.after(TODAY, 3) == after(3)
    assert CountedDays().last_until(datetime.date(2026, 3, 8)) == datetime.date(2026, 3, 6)
    with pytest.raises(NoDatesToCount):
        CountedDays(frozenset())


def test_without_work_all_is_ready_when_the_order_is_there():
    job = job_of(Delivery("one", (Block("nothing", 0),), after(9)))
    early = earliest_dates(job, bench((2,) * 7, buffer_days=0), (), TODAY)
    assert (early.spans, early.deliveries[0].ready_on) == ({}, TODAY)


def test_a_second_rack_takes_twice_as_much():
    job = with_caps_doubled(job_of(chain(6, cap=2, due=after(9))))
    assert [cap.share for cap in job.deliveries[0].blocks[0].caps] == [Fraction(1, 4)]
    early = earliest_dates(job, bench((9,) * 7), (), TODAY)
    assert [minutes for _, minutes in early.spans[0, 0].laid] == [4, 2]


def test_one_day_less_of_each_kind_is_a_day_gained_down_to_none():
    always = bench((9,) * 7, buffer_days=1)

    def gains(**more):
        # due on a Wednesday, so that no Sunday is in between
        job = job_of(chain(1, proof="proof_days" in more, due=after(16), transit=1), **more)
        latest = latest_dates(job, always, (), TODAY)
        return {each.key: each.gain for each in changes_of(job, always, (), TODAY, latest)}

    found = gains(supplies=(Supply("card", 1, days=EVERY_DAY),))
    assert {key: found[key] for key in ("lead", "proof", "buffer", "transit")} == {
        "lead": 1, "proof": 0, "buffer": 1, "transit": 1,
    }  # fmt: skip
    assert gains(supplies=(Supply("card", 0, days=EVERY_DAY),))["lead"] == 0
    assert [gains(proof_days=days)["proof"] for days in (0, 1)] == [0, 1]


def test_the_last_number_that_may_be_tried_is_tried():
    def job(left_out):
        return job_of(chain(10 - left_out, due=after(6)))

    last = latest_dates(job(2), bench((2,) * 7), (), TODAY).yes_on
    assert first_in_time(job, 2, bench((2,) * 7), (), TODAY, last) == 2
    assert first_in_time(job, 1, bench((2,) * 7), (), TODAY, last) is None


def _date_by_date(plan, promises, after):
    """Promised work laid as the rule says it, looking at every date."""
    left, kept = 0, {}
    for work in sorted(promises, key=lambda each: each.due_on, reverse=True):
        need, on = work.minutes, work.due_on - ONE_DAY
        while need > 0 and on > after:
            taken = plan.take(on, need, work.caps)
            if taken:
                need -= taken
                kept[on] = kept.get(on, 0) + taken
            on -= ONE_DAY
        left += need
    return left, tuple(sorted(kept.items()))


@given(
    weekdays=st.lists(st.sampled_from([0, 0, 60, 240]), min_size=7, max_size=7),
    promises=st.lists(
        st.tuples(st.integers(0, 900), st.integers(-3, 40), st.sampled_from([0, 0, 50, 120])),
        max_size=30,
    ),
    taken=st.lists(st.integers(0, 35), max_size=5),
)
def test_promises_skip_full_dates_and_end_up_where_the_rule_puts_them(weekdays, promises, taken):
    after = datetime.date(2026, 3, 1)
    calendar = WorkCalendar(tuple(weekdays), days_off=frozenset({after + 9 * ONE_DAY}))
    promised = [
        Promise(
            str(number),
            minutes,
            after + days * ONE_DAY,
            (Cap("rack", Fraction(1, room)),) if room else (),
        )
        for number, (minutes, days, room) in enumerate(promises)
    ]

    def plan():
        begun = Plan(calendar)
        for days in taken:
            begun.take(after + days * ONE_DAY, 100)
        return begun

    quick, plain = plan(), plan()
    assert lay_promises(quick, promised, after) == _date_by_date(plain, promised, after)
    assert (quick.minutes, quick.room) == (plain.minutes, plain.room)


@pytest.mark.parametrize("seed", range(20))
def test_promises_of_one_date_laid_as_one_take_the_same_minutes(seed):
    chance = random.Random(seed)
    today = datetime.date(2026, 11, 30)
    calendar = WorkCalendar((240, 0, 180, 240, 60, 0, 0))
    promises = [
        Promise(f"order {place}", chance.randint(0, 500), today + chance.randint(1, 30) * ONE_DAY)
        for place in range(40)
    ]
    one_by_one, at_once = Plan(calendar), Plan(calendar)
    as_one = together_by_date(promises)
    assert len(as_one) < len(promises)
    laid = lay_promises(one_by_one, promises, today)
    assert lay_promises(at_once, as_one, today) == laid
    assert at_once.minutes == one_by_one.minutes


def test_promises_that_need_racks_stay_apart():
    day = datetime.date(2026, 12, 10)
    promises = [Promise("a", 30, day), Promise("b", 30, day, (Cap("rack", Fraction(1, 20)),))]
    assert together_by_date(promises) is promises
