"""A file of many rows as slow work: checked, and taken in whole or not at all."""

from django.urls import reverse
from django.utils.module_loading import import_string

from maker.activity.models import Event
from maker.activity.services import record
from maker.imports.kinds import AlreadyImported, Importing, Upload
from maker.imports.preview import preview_of
from maker.slow_work.doing import Ending, Outcome, Watch
from maker.slow_work.models import Work

CHECKED = "checked"


def take_in(work: Work, watch: Watch) -> Ending:
    """Check a file, and take it in if that is asked and nothing is wrong.

    `given` holds `importing`, the place of what is told of this kind of import; `upload`, the rows;
    `then`: check, import, or import_rest to leave out what has an error.
    """
    importing: Importing = import_string(work.given["importing"])
    then, upload = work.given["then"], Upload.of(work.given["upload"])
    groups = importing.groups_of(
        work.workshop, upload, lambda items: watch.each(items, f"Checking {importing.one}s")
    )
    if then == "check" or (then == "import" and any(group.errors for group in groups)):
        _, shown = preview_of(importing, upload, groups)
        checked = f"{work.came_from}?{CHECKED}={work.pk}"
        return lambda: Outcome(leads_to=checked, at_once=True, data=shown)
    values = [g.value for g in groups if not g.errors and g.value is not None]
    store = importing.prepare(
        work.workshop,
        work.asked_by,
        values,
        upload.key,
        lambda items: watch.each(items, "Working out what is saved"),
    )
    watch.look(len(groups), len(groups), "Saving", now=True)

    def ending() -> Outcome:
        try:
            says = store()
        except AlreadyImported as already:
            says = [("info", already.message)]
        else:
            record(
                Event.Kind.IMPORTED,
                user=work.asked_by,
                workshop=work.workshop,
                about=importing.title,
                later=True,
            )
        return Outcome(
            says=says,
            leads_to=reverse(importing.list_url, args=[work.workshop.slug]),
            leads_to_label=f"Open {importing.title.lower()}",
        )

    return ending
