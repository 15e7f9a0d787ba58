"""Tests that touch the database are marked by themselves: PostgreSQL runs those and no others."""

import pytest


def is_marked(request):
    return request.node.get_closest_marker("database") is not None


def test_a_fixture_that_asks_for_the_database_marks(workshop, request):
    assert is_marked(request)


def test_a_fixture_behind_a_fixture_marks(anonymous_client, request):
    assert is_marked(request)


@pytest.mark.django_db
def test_the_mark_of_the_database_marks(request):
    assert is_marked(request)


def test_what_asks_for_no_database_is_not_marked_and_cannot_reach_it(request):
    from maker.workshop.models import Workshop

    assert not is_marked(request)
    with pytest.raises(RuntimeError, match="Database access not allowed"):
        Workshop.objects.exists()
