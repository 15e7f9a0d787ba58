"""What a file would do, as the page shows it: plain values, made by the page or by a worker."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from maker.imports.kinds import Importing, Upload
from maker.web.file_rows import RowGroup

# what is shown of rows without an error, and of rows with one; the rest is counted
ROWS_SHOWN, WRONG_ROWS_SHOWN = 40, 200
LINKS_SHOWN = 50


def preview_of(
    importing: Importing, upload: Upload, groups: Sequence[RowGroup]
) -> tuple[Upload, dict[str, Any]]:
    """Return what is shown, and the upload with empty cells where something has to be typed."""
    labels = {wanted: name for name, wanted in importing.fields.items()}
    wrong = [group for group in groups if group.errors]
    right = [group for group in groups if not group.errors]
    used = [name for name in upload.fields if any(row.cells[name] for row in upload.rows)]
    must_show = {name for group in wrong for _, name in group.errors}
    upload = upload.with_fields(must_show, importing)
    shown_fields = [name for name in upload.fields if name in used or name in must_show]
    wrong_rows = list(_shown(wrong, upload, shown_fields, labels, WRONG_ROWS_SHOWN))
    counts: dict[str, int] = {}
    for group in right:
        counts[group.note.partition(":")[0]] = counts.get(group.note.partition(":")[0], 0) + 1
    return upload, {
        "fields": upload.fields,
        "headings": [labels[name] for name in shown_fields],
        "wrong_rows": wrong_rows,
        "right_rows": list(_shown(right, upload, shown_fields, labels, ROWS_SHOWN)),
        "wrong_count": len(wrong),
        "right_count": sum(1 for group in right if group.value is not None),
        "row_count": len(upload.rows),
        "counts": [f"{number} {note}" for note, number in counts.items()],
        "error_links": [
            [
                f"cell-{row['number']}-{cell['name']}",
                f"Row {row['number']}, {cell['label']}: {words}",
            ]
            for row in wrong_rows
            for cell in row["cells"]
            for words in cell["errors"]
        ][:LINKS_SHOWN],
    }


def _shown(
    groups: Iterable[RowGroup],
    upload: Upload,
    names: Sequence[str],
    labels: Mapping[str, str],
    at_most: int,
) -> Iterator[dict[str, Any]]:
    count = 0
    places = {name: place for place, name in enumerate(upload.fields)}
    for group in groups:
        for row in group.rows:
            if count >= at_most:
                return
            count += 1
            yield {
                "number": row.number,
                "note": group.note,
                "is_first": row is group.rows[0],
                "cells": [
                    {
                        "label": labels[name],
                        "text": row.cells.get(name, ""),
                        "name": str(places[name]),
                        "errors": group.errors.get((row.number, name), []),
                        "is_long": len(row.cells.get(name, "")) > 60,
                    }
                    for name in names
                ],
            }
