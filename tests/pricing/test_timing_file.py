"""Timed runs in a workshop file: they come back as they were, and nothing that cannot be."""

import datetime

import pytest

from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion
from maker.calc.strict_json import WrongJson
from pricing.times.models import TimedRun
from pricing.times.standards import timings_of
from pricing.workshop_file.demo import demo_document
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.seeding import seed_large
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.factories import make_recipe, today
from tests.pricing.timed_runs import NOON, make_run

NOT_KEPT = ("pk", "id", "design_id", "timed_by_id", "form_key", "edit_number")


def columns(workshop):
    return [
        {key: value for key, value in row.items() if key not in NOT_KEPT}
        for row in TimedRun.objects.of(workshop).order_by("pk").values()
    ]


@pytest.fixture
def document(workshop):
    version = make_recipe(workshop)
    make_run(version, rejects=2, note="“new” blade")
    make_run(version, is_left_out=True)
    TimedRun.objects.create(
        design=version.design,
        step_name="fold and glue",
        basis="made",
        started_at=NOON,
        running_since=NOON,
        worked_seconds=5,
    )
    return export_workshop(workshop)


def test_runs_come_back_as_they_were(workshop, document):
    again = import_workshop(document, name="Another")
    assert len(columns(again)) == 3
    assert columns(again) == columns(workshop)
    assert export_workshop(again)["timed_runs"] == document["timed_runs"]


def test_a_file_from_before_has_none(document):
    runs = document.pop("timed_runs")
    for key in (
        "cutting_plans", "offcuts", "tag_prints", "price_decisions",
        "calendar_dates", "file_columns", "orders", "expenses", "fairs", "shops",
        "finished_places", "finished_items", "enquiries", "letters", "closed_months",
    ):  # fmt: skip
        del document[key]
    older = import_workshop({**document, "version": 2}, name="Older")
    assert not TimedRun.objects.of(older).exists()
    with pytest.raises(WrongJson) as refused:
        import_workshop({**document, "version": 2, "timed_runs": runs}, name="Mixed")
    assert refused.value.where == "timed_runs"


@pytest.mark.parametrize(
    ("key", "value", "where"),
    [("design", "No such design", "design"), ("basis", "rack", "basis"), ("basis", "x", "basis"),
     ("count", None, "count"), ("count", 0, "count"), ("count", 10**12, "count"),
     ("worked_seconds", -1, "worked_seconds"), ("rejects", 11, "rejects"),
     ("running_since", "2026-01-01T00:00:00Z", "running_since"),
     ("started_at", "yesterday", "started_at"), ("step_name", "", "step_name"),
     ("step_name", "x" * 121, "step_name"), ("speed", 1, "speed")],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_path(document, key, value, where):
    document["timed_runs"][0][key] = value
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name="Another")
    assert refused.value.where == f"timed_runs[0].{where}"


def test_an_example_is_removed_with_its_runs(document):
    example = import_workshop(document, name="Another", is_demo=True)
    remove_workshop(workshop=example)
    assert TimedRun.objects.count() == 3


def test_the_demo_shows_a_suggestion_and_what_does_not_count(db):
    demo = import_workshop(demo_document(today=today()), is_demo=True)
    assert not TimedRun.objects.of(demo).filter(
        finished_at__gt=datetime.datetime.now(datetime.UTC) + datetime.timedelta(days=1)
    ).exists()  # fmt: skip
    steps = {}
    for design in Design.objects.of(demo):
        version = DesignVersion.objects.filter(design=design).newest_first().with_recipe().first()
        timings = timings_of(version, demo)
        # every run of the demo is of a step of today's recipe
        assert not timings.strangers
        steps |= {(design.name, timed.step.name): timed for timed in timings.steps}
    assert steps["Meadow gift bag", "score and fold"].is_off
    assert steps["Meadow gift bag", "score and fold"].suggestion
    assert not steps["Meadow gift bag", "handles"].timing.is_believed
    assert any(row.run.is_left_out for timed in steps.values() for row in timed.rows)
    assert any(timed.timing.ignored for timed in steps.values())


def test_a_large_workshop_has_the_runs_of_each_copy(db):
    large = seed_large(times=2, today=today())
    runs = TimedRun.objects.of(large)
    assert runs.count() == 2 * len(demo_document(today=today())["timed_runs"])
    assert runs.filter(design__name__endswith=" 2").count() * 2 == runs.count()
