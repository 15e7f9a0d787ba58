"""Files of many rows: checked and taken in by a worker, whole or not at all, once."""

import signal
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.stock.models import StockEntry
from maker.activity.models import Event
from maker.imports import views
from maker.slow_work import doing
from maker.slow_work.models import Work, Worker
from maker.workshop.models import Workshop
from tests import factories
from tests.catalogue.files import address, confirm, csv_of, send
from tests.catalogue.pages import text_of
from tests.patience import PATIENCE_S
from tests.slow_work import do_what_waits, start_worker

pytestmark = pytest.mark.django_db(transaction=True)

MATERIALS = address("material_import")
RECEIPTS = address("purchase_import")


@pytest.fixture(autouse=True)
def _few_rows_are_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(views, "MOST_ROWS_AT_ONCE", 2)


def materials(*names: str) -> bytes:
    return csv_of("Name,Counted in,Pack holds,Pack price", *(f"{n},pieces,24,3.50" for n in names))


def receipts(count: int) -> bytes:
    rows = (f"2026-01-{at % 28 + 1:02d},New mill,Bramble card,24,6,N{at}" for at in range(count))
    return csv_of("Day,Supplier,Material,Quantity,Paid,Number on it", *rows)


def worked(client: Client, answer: Any) -> Any:
    """Let a worker do what an answer leads to, and return the page it ends with."""
    assert answer.status_code == 302, text_of(answer)
    assert "/work/" in answer["Location"]
    do_what_waits()
    return client.get(answer["Location"], follow=True)


def names() -> list[str]:
    return list(Material.objects.order_by("name").values_list("name", flat=True))


def test_a_long_file_is_checked_shown_and_taken_in(client: Client, workshop: Workshop) -> None:
    answer = send(client, MATERIALS, materials("Box", "Bow", "Bag"))
    assert "Check 3 rows of materials" in text_of(client.get(answer["Location"]))
    preview = worked(client, answer)
    assert preview.status_code == 200
    page = text_of(preview)
    assert "Nothing is saved yet. 3 rows in the file, 3 new." in page
    assert "Import 3 materials" in page
    assert names() == []
    taken = confirm(client, MATERIALS, preview)
    assert names() == []
    page = text_of(worked(client, taken))
    assert "Imported 3 materials." in page
    assert "Open materials" in page
    assert names() == ["Bag", "Bow", "Box"]
    event = Event.objects.get()
    assert (event.kind, event.about, event.workshop) == ("imported", "Materials", workshop)
    assert (event.user, event.address) == (workshop.memberships.get().user, "")


def test_a_second_click_starts_it_once(client: Client, workshop: Workshop) -> None:
    preview = worked(client, send(client, MATERIALS, materials("Box", "Bow", "Bag")))
    first, second = (confirm(client, MATERIALS, preview) for _ in range(2))
    assert first["Location"] == second["Location"]
    do_what_waits()
    third = confirm(client, MATERIALS, preview)
    assert "Imported 3 materials." in text_of(client.get(third["Location"]))
    assert (Work.objects.count(), len(names())) == (2, 3)
    assert Event.objects.count() == 1


def test_a_short_file_is_kept_as_taken_in_too(client: Client, workshop: Workshop) -> None:
    preview = send(client, MATERIALS, materials("Box"))
    assert not Event.objects.exists()
    confirm(client, MATERIALS, preview)
    event = Event.objects.get()
    assert (event.kind, event.about, event.address) == ("imported", "Materials", "127.0.0.0/24")


def test_what_is_wrong_is_mended_in_the_preview_and_checked_again(
    client: Client, workshop: Workshop
) -> None:
    data = materials("Box", "Bow", "Bag") + b"\nBall,pieces,24,abc"
    preview = worked(client, send(client, MATERIALS, data))
    assert preview.status_code == 422
    page = text_of(preview)
    assert "Row 5, Pack price" in page
    assert "Skip these and import the other 3" in page
    place = preview.content.decode().split('name="cell-5-')[1].split('"')[0]
    mended = confirm(client, MATERIALS, preview, "check", **{f"cell-5-{place}": "4.50"})
    again = worked(client, mended)
    assert again.status_code == 200
    assert "Imported 4 materials." in text_of(worked(client, confirm(client, MATERIALS, again)))
    assert str(Material.objects.with_costs().get(name="Ball").packs.get().price) == "4.500000"


def test_the_rest_is_taken_in_without_what_is_wrong(client: Client, workshop: Workshop) -> None:
    data = materials("Box", "Bow", "Bag") + b"\nBall,pieces,24,abc"
    preview = worked(client, send(client, MATERIALS, data))
    page = text_of(worked(client, confirm(client, MATERIALS, preview, "import_rest")))
    assert "Imported 3 materials." in page
    assert names() == ["Bag", "Bow", "Box"]


def test_what_changed_after_the_check_is_shown_and_nothing_is_saved(
    client: Client, workshop: Workshop
) -> None:
    preview = worked(client, send(client, MATERIALS, materials("Box", "Bow", "Bag")))
    taken = confirm(client, MATERIALS, preview)
    factories.make_material(workshop, name="Bow", retired_on=timezone.localdate())
    shown = worked(client, taken)
    assert shown.status_code == 422
    assert "“Bow” is archived" in text_of(shown)
    assert names() == ["Bow"]
    Material.objects.all().delete()
    # the same button once more is another try, not the work that ended with this page
    assert "Imported" in text_of(worked(client, confirm(client, MATERIALS, shown)))
    assert names() == ["Bag", "Bow", "Box"]


def test_receipts_come_in_once_whichever_button(client: Client, workshop: Workshop) -> None:
    card = factories.make_material(workshop, name="Bramble card")
    preview = worked(client, send(client, RECEIPTS, receipts(4)))
    done = worked(client, confirm(client, RECEIPTS, preview))
    assert "Imported 4 receipts. The costs are up to date." in text_of(done)
    # from the same preview with the other button
    worked(client, confirm(client, RECEIPTS, preview, "import_rest"))
    assert Purchase.objects.count() == 4
    card.refresh_from_db()
    assert card.on_hand == 96
    owner = Work.objects.latest("pk").asked_by
    assert owner is not None
    assert {one.made_by for one in StockEntry.objects.select_related("made_by")} == {owner}


def test_a_check_of_another_workshop_or_list_is_not_found(
    client: Client, stranger_client: Client, workshop: Workshop, other_workshop: Workshop
) -> None:
    worked(client, send(client, MATERIALS, materials("Box", "Bow", "Bag")))
    work = Work.objects.get()
    elsewhere = address("material_import", "else")
    for who, where in ((stranger_client, elsewhere), (client, RECEIPTS)):
        for answer in (
            who.get(where, {"checked": str(work.pk)}),
            who.post(where, {"work": str(work.pk), "then": "import"}),
            who.post(where, {"work": "x", "then": "import"}),
        ):
            assert answer.status_code == 422
            assert "Choose the file again" in text_of(answer)
    do_what_waits()
    assert names() == []


def test_a_viewer_starts_no_import(reader_client: Client, workshop: Workshop) -> None:
    assert send(reader_client, MATERIALS, materials("Box", "Bow", "Bag")).status_code == 403
    assert not Work.objects.exists()


def until(is_so: Callable[[], object]) -> None:
    """Wait for another process."""
    end = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.mark.slow
def test_killed_anywhere_it_is_done_once_more_and_once(
    client: Client, workshop: Workshop, tmp_path: Path
) -> None:
    card = factories.make_material(workshop, name="Bramble card")
    preview = worked(client, send(client, RECEIPTS, receipts(150)))
    taken = confirm(client, RECEIPTS, preview)
    process = start_worker(tmp_path)
    # in the middle of checking, or of writing, as it happens; the end is the same
    until(lambda: Work.objects.filter(state="working").exists())
    time.sleep(0.4)
    process.send_signal(signal.SIGKILL)
    process.wait(PATIENCE_S)
    assert Purchase.objects.count() in (0, 150)
    Worker.objects.update(seen_at=timezone.now() - timedelta(minutes=5))
    process = start_worker(tmp_path, "--until-idle")
    process.wait(PATIENCE_S)
    until(lambda: not DBTaskResult.objects.running().exists())
    do_what_waits()
    assert "Imported 150 receipts" in text_of(client.get(taken["Location"]))
    assert Purchase.objects.count() == 150
    card.refresh_from_db()
    assert card.on_hand == 150 * 24


def test_it_says_how_far_it_is_and_stops_in_the_middle(
    client: Client, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    preview = worked(client, send(client, MATERIALS, materials("Box", "Bow", "Bag")))
    taken = confirm(client, MATERIALS, preview)
    seen: list[tuple[int, int, str]] = []
    look = doing.Watch.look

    def noted(
        self: doing.Watch, done: int = 0, of: int = 0, stage: str = "", *, now: bool = False
    ) -> None:
        seen.append((done, of, stage))
        if done == 2:
            client.post(f"{taken['Location']}stop/")
        look(self, done, of, stage, now=True)

    monkeypatch.setattr(doing.Watch, "look", noted)
    page = text_of(worked(client, taken))
    assert seen == [(done, 3, "Checking materials") for done in range(3)]
    assert "Stopped" in page
    assert names() == []


def test_more_new_materials_are_written_with_the_same_few_queries(
    client: Client, workshop: Workshop, count_queries: Callable[[], Any]
) -> None:
    counts = []
    # Django gives SQLite 999 values in one statement: 20 materials are one, 30 would be two
    for start, number in ((0, 3), (100, 3), (200, 20)):
        many = materials(*(f"Box {start + at}" for at in range(number)))
        preview = worked(client, send(client, MATERIALS, many))
        confirm(client, MATERIALS, preview)
        with count_queries() as queries:
            do_what_waits()
        counts.append(len([one for one in queries if "catalogue_" in one["sql"]]))
    # the first time there are no packs to look for yet
    assert counts[1] == counts[2]
    assert len(names()) == 26
