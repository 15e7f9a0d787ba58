"""Results are kept by what they were worked out from, and only while that is certain."""

import pytest

from maker.kept import Kept, as_stored
from maker.workshop.models import Workshop


def test_what_is_kept_is_worked_out_once_for_each_content():
    kept, worked = Kept(2), []

    def result_of(content):
        def work_out():
            worked.append(content)
            return content.upper()

        return kept.result_of(lambda: content, work_out)

    assert [result_of(content) for content in "abaab"] == list("ABAAB")
    assert worked == ["a", "b"]
    # the one unused longest is let go
    assert (result_of("a"), result_of("c"), result_of("a"), result_of("b")) == tuple("ACAB")
    assert worked == ["a", "b", "c", "b"]


def test_nothing_is_kept_that_was_written_to_meanwhile():
    kept, now = Kept(2), ["before"]

    def work_out():
        now[0] = "after"
        return "of both"

    assert kept.result_of(lambda: now[0], work_out) == "of both"
    now[0] = "before"
    assert kept.result_of(lambda: now[0], lambda: "of before") == "of before"


def test_nothing_is_kept_without_a_content():
    kept = Kept(2)
    assert [kept.result_of(lambda: None, lambda said=said: said) for said in "ab"] == ["a", "b"]


@pytest.mark.django_db
def test_rows_as_stored_change_with_a_value(workshop, count_queries):
    rows = Workshop.objects.order_by("pk").values_list("name", "wage_per_hour")
    with count_queries() as asked:
        before = as_stored(rows)
    assert len(asked) == 1
    assert hash(before) == hash(as_stored(rows))
    Workshop.objects.filter(pk=workshop.pk).update(wage_per_hour="15.010001")
    assert as_stored(rows) != before


@pytest.mark.django_db
def test_of_what_cannot_be_there_no_row_is_stored():
    assert as_stored(Workshop.objects.filter(pk__in=[]).values_list("name")) == ()
