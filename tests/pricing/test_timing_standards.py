"""Timed batches beside the recipe: smoothed, believed from three on, used with one button."""

from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import DesignVersion, Step
from catalogue.recipes.services import undo_recipe
from maker.calc.refusal import Refusal
from pricing.times.models import TimedRun
from pricing.times.standards import (
    NothingToUse,
    SuggestionMovedOn,
    timings_of,
    use_timed_minutes,
)
from tests.factories import make_recipe
from tests.pricing.timed_runs import LATER, NOON, after, make_run


@pytest.fixture
def version(workshop):
    return make_recipe(workshop)


def newest(version):
    return (
        DesignVersion.objects.filter(design=version.design_id).newest_first().with_recipe().first()
    )


def timed(version, name="fold and glue"):
    steps = timings_of(newest(version), version.design.workshop).steps
    return next(one for one in steps if one.step.name == name)


def batches(version, *each, **fields):
    return [
        make_run(version, each=minutes, finished_at=after(number * 60), **fields)
        for number, minutes in enumerate(each)
    ]


def use(version, seen=None, **fields):
    now = newest(version)
    return use_timed_minutes(
        **{
            "design": version.design,
            "workshop": version.design.workshop,
            "step_name": "fold and glue",
            "seen": seen or timed(version).suggestion.key,
            "version_number": now.number,
            "edit_number": now.edit_number,
            "by": None,
            **fields,
        }
    )


def minutes(version, number=None):
    steps = Step.objects.filter(version__design=version.design_id)
    step = steps.filter(version__number=number or newest(version).number).get()
    return step.minutes_low, step.minutes, step.minutes_high


def test_three_batches_move_the_minutes_three_tenths_of_the_way_each(version):
    batches(version, "12", "13", "12")
    found = timed(version)
    # worked by hand: 10 + .3 x 2 = 10.6; + .3 x 2.4 = 11.32; + .3 x .68 = 11.524
    assert found.timing.likely == Decimal("11.524")
    assert found.suggestion.key == "11.52/11.52/13.00"
    assert found.is_off


def test_two_batches_are_no_trend(version):
    batches(version, "20", "20")
    found = timed(version)
    assert found.suggestion is None
    assert not found.is_off
    assert found.timing.change > 0


def test_small_batches_and_what_was_left_out_do_not_count(version):
    batches(version, "12", "12")
    make_run(version, each="30", count=4)
    make_run(version, each="30", is_left_out=True)
    found = timed(version)
    assert len(found.timing.used) == 2
    assert [row.is_enough for row in found.rows].count(True) == 2
    assert found.suggestion is None


def test_off_is_what_is_off_by_more_than_she_minds(version, workshop):
    batches(version, "11", "11", "11")
    # 10 -> 10.3 -> 10.51 -> 10.657: 6.57 % slower
    for share, is_off in (("0.0657", False), ("0.0656", True)):
        workshop.timing_share = Decimal(share)
        workshop.save()
        version.design.workshop.refresh_from_db()
        assert timed(version).is_off is is_off


def test_a_batch_is_laid_beside_the_minutes_without_practice(version):
    # halving to 80 % with each doubling: eight pieces take .8 ^ 3 = .512 of the first each
    DesignVersion.objects.filter(pk=version.pk).update(
        learning="cumulative", learning_rate=Decimal("0.8")
    )
    Step.objects.filter(version=version).update(learns=True)
    make_run(version, count=8, worked_seconds=int(Decimal("10") * 8 * Decimal("0.512") * 60))
    (row,) = timed(version).rows
    assert round(row.value.minutes_each, 2) == 10


def test_a_step_counted_by_good_pieces_counts_the_good_ones(version):
    Step.objects.filter(version=version).update(basis="good")
    make_run(version, count=12, rejects=2, worked_seconds=6000, basis="good")
    make_run(version, count=6, rejects=6, basis="good")
    make_run(version, basis="made")
    rows = timed(version).rows
    assert [row.value and row.value.count for row in rows] == [10, None, None]
    assert rows[0].value.minutes_each == 10


def test_work_that_is_not_done_by_the_piece_counts_from_one(version):
    Step.objects.filter(version=version).update(basis="job")
    batches(version, "12", "12", "12", count=1, basis="job")
    assert timed(version).suggestion is not None


def test_labour_dearer_than_planned(version):
    batches(version, "12", "12", "12")
    # 3 batches of 10 took 360 min instead of 300: an hour at 15.00
    assert timed(version).variance.total == 15


def test_how_many_batches_tell_the_average(version):
    batches(version, "9", "10", "11")
    # x = 10, s = 1: (1.96 x 1 / (.05 x 10)) ^ 2 = 15.37, so 16
    assert timed(version).needed == 16


def test_the_suggestion_goes_into_the_recipe_and_back(version, client):
    batches(version, "12", "12", "12")
    page = reverse("pricing:design_times", args=["marlow", version.design_id])
    shown = client.get(page).content.decode()
    assert "11.31 – 11.31 – 12 min" in shown
    now = newest(version)
    data = {"step": "fold and glue", "seen": timed(version).suggestion.key,
            "version": now.number, "edit_number": now.edit_number}  # fmt: skip
    use = reverse("pricing:design_times_use", args=["marlow", version.design_id])
    answer = client.post(use, data, follow=True)
    text = answer.content.decode()
    assert "in the recipe" in text
    assert minutes(version) == (Decimal("11.31"), Decimal("11.31"), Decimal(12))
    # the batches are in the minutes now and move them no further
    assert timed(version).suggestion is None
    assert [row.is_new for row in timed(version).rows] == [False] * 3
    undo = reverse("catalogue:recipe_undo", args=["marlow", version.design_id, 1, 0])
    assert f'action="{undo}"' in text
    client.post(undo)
    assert minutes(version) == (None, Decimal(10), None)
    assert timed(version).suggestion.key == data["seen"]


def test_batches_count_once_and_later_ones_move_on_from_there(version):
    batches(version, "12", "12", "12")
    use(version)
    found = timed(version)
    assert not found.timing.used
    assert found.counted == 3
    for _ in range(3):
        make_run(version, each="12", finished_at=NOON + LATER)
    # from 11.31: + .3 x .69 = 11.517, 11.6619, 11.76333
    assert timed(version).timing.likely == Decimal("11.76333")


def test_a_frozen_version_gets_a_next_one(version):
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at=NOON)
    batches(version, "12", "12", "12")
    made = use(version)
    assert made.number == 2
    assert minutes(version, 1) == (None, Decimal(10), None)
    assert minutes(version, 2)[1] == Decimal("11.31")
    undo_recipe(version=made, edit_number=0, by=None)
    assert minutes(version, 2)[1] == 10


def test_a_suggestion_that_is_not_the_one_seen_is_not_used(version):
    batches(version, "12", "12", "12")
    seen = timed(version).suggestion.key
    for wrong in (
        {"seen": "1.00/1.00/1.00"}, {"seen": "<script>"}, {"version_number": 7},
        {"edit_number": 5},
    ):  # fmt: skip
        with pytest.raises(SuggestionMovedOn):
            use(version, **{"seen": seen, **wrong})
    make_run(version, each="14", finished_at=after(900))
    with pytest.raises(SuggestionMovedOn):
        use(version, seen=seen)
    with pytest.raises(NothingToUse):
        use(version, seen=seen, step_name="no such step")
    assert minutes(version) == (None, Decimal(10), None)


def test_the_second_click_changes_nothing(version):
    batches(version, "12", "12", "12")
    DesignVersion.objects.filter(pk=version.pk).update(frozen_at=NOON)
    seen = timed(version).suggestion.key
    use(version)
    with pytest.raises(Refusal):
        use(version, seen=seen, version_number=1, edit_number=0)
    assert newest(version).number == 2


def test_runs_of_steps_that_are_gone_or_doubled_stand_apart(client, version):
    make_run(version, step_name="trim the edge")
    Step.objects.create(version=version, name="fold and glue", minutes=2)
    make_run(version)
    found = timings_of(newest(version), version.design.workshop)
    assert {run.step_name for run in found.strangers} == {"fold and glue", "trim the edge"}
    assert not found.steps
    page = reverse("pricing:design_times", args=["marlow", version.design_id])
    assert "trim the edge" in client.get(page).content.decode()


@pytest.mark.parametrize(
    "data",
    [{}, {"step": "x" * 9000, "seen": "a/b/c", "version": "1", "edit_number": "0"},
     {"step": "fold and glue", "version": "9" * 30, "edit_number": "-1", "seen": "\x00"}],
)  # fmt: skip
def test_hostile_entries_change_nothing(client, version, data):
    batches(version, "12", "12", "12")
    address = reverse("pricing:design_times_use", args=["marlow", version.design_id])
    assert client.post(address, data).status_code == 302
    assert minutes(version) == (None, Decimal(10), None)


def test_the_page_for_everybody(client, reader_client, anonymous_client, stranger_client, version):
    page = reverse("pricing:design_times", args=["marlow", version.design_id])
    assert "No times yet" in client.get(page).content.decode()
    batches(version, "12", "12", "12")
    assert "Use these minutes" in client.get(page).content.decode()
    looked = reader_client.get(page).content.decode()
    assert "14% slower" not in looked
    assert "13% slower" in looked
    assert "Use these minutes" not in looked
    assert anonymous_client.get(page).status_code == 302
    assert stranger_client.get(page).status_code == 404


def test_more_runs_versions_and_changes_cost_no_more_queries(client, version, count_queries):
    page = reverse("pricing:design_times", args=["marlow", version.design_id])

    def look():
        with count_queries() as queries:
            assert client.get(page).status_code == 200
        return len(queries)

    batches(version, "12")
    look()
    before = look()
    batches(version, "12", "13", "14")
    use(version)
    DesignVersion.objects.update(frozen_at=NOON)
    Step.objects.create(version=version, name="cut", basis="sheet", minutes=3)
    batches(version, *["12"] * 60, step_name="cut", basis="sheet")
    assert TimedRun.objects.count() > 60
    look()  # a recipe written anew is read once
    assert look() <= before


def test_a_step_without_minutes_takes_what_is_timed(version):
    Step.objects.filter(version=version).update(minutes=0)
    batches(version, "2", "2", "2")
    found = timed(version)
    assert found.is_off
    assert found.suggestion.likely == 2
