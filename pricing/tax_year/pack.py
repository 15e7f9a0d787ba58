"""The accountant's pack of a tax year: one archive, made by a worker."""

import shutil
import tempfile
import zipfile
from collections.abc import Sequence

from django.conf import settings
from django.utils import timezone

from maker.documents.spreadsheet import write_csv, write_xlsx
from maker.files.services import opened
from maker.slow_work.doing import Ending, File, Outcome, Watch
from maker.slow_work.models import Work
from maker.web.lists import count_text
from maker.workshop.models import Workshop
from pricing.calc.spending.tax_year import TaxYear
from pricing.tax_year.inputs import year_of
from pricing.tax_year.papers import FOLDER, Paper, papers_of
from pricing.tax_year.tables import YearTable, year_tables

ZIP_TYPE = "application/zip"
# what a browser still fetches, and what is written while nobody else can write
MOST_BYTES_OF_PAPERS = 500 * 1024 * 1024
# what no program can say for her
LEFT_TO_AN_ADVISER = """\
Left to a licensed adviser
--------------------------
- Whether stock counts at all: under a cash scheme it may not.
- Whether your own wage and overhead belong in the value of finished items: they are apart here.
- Which expenses your tax office accepts, and how tools that last are written off.
- What tax is in takings at fairs and of shops: they are listed as taken, without a rate.
- Whether you must register for tax, and with which rates.
"""


def read_me(
    workshop: Workshop,
    year: TaxYear,
    tables: Sequence[YearTable],
    left_out: Sequence[str] = (),
) -> str:
    """Say what is in the archive, and what it leaves open."""
    lines = [
        f"{workshop.name}: tax year {year.name}",
        f"{year.first:%-d %B %Y} to {year.last:%-d %B %Y}, amounts in {workshop.currency}",
        f"Made on {timezone.localdate():%-d %B %Y} by Pleat & Penny.",
        "",
        "Each list is there twice: in csv/ and in xlsx/.",
        f"Photos and PDFs of receipts and expenses are in {FOLDER}/, named by date and number;",
        "the lists name them, and photos-and-pdfs has the SHA-256 of each. "
        f"At most {MOST_BYTES_OF_PAPERS // 1024**2} MB of them.",
        *left_out,
        "",
        *(f"{table.name}: {table.about}" for table in tables),
        "",
        f"Stock is valued by {workshop.get_valuation_display()}, item by item at the lower of cost",
        "and what it would fetch. Materials that go into things sold at or above cost stay at cost",
        "(IAS 2, paragraphs 9 and 28 to 33).",
        "",
        LEFT_TO_AN_ADVISER,
    ]
    return "\r\n".join("\n".join(lines).splitlines()) + "\r\n"


def _pack_papers(archive: zipfile.ZipFile, papers: Sequence[Paper], watch: Watch) -> list[str]:
    """Write the photos and PDFs, one after the other; return why each that is not in it is not."""
    left_out, room = [], MOST_BYTES_OF_PAPERS
    for paper in watch.each(papers, "Adding photos and PDFs") if papers else ():
        if paper.row.stored.size > room:
            left_out.append(f"Left out, because the archive would be too large: {paper.place}")
            continue
        try:
            with opened(paper.row.stored.digest, paper.row.ending) as source:
                made_at = timezone.localtime().timetuple()[:6]
                with archive.open(zipfile.ZipInfo(paper.place, made_at), "w") as place:
                    shutil.copyfileobj(source, place)
        except FileNotFoundError:
            left_out.append(f"Missing, because its file is gone: {paper.place}")
        else:
            room -= paper.row.stored.size
    return left_out


def make_pack(work: Work, watch: Watch) -> Ending:
    """Make the archive of a tax year; `given` holds the `year` it starts in."""
    workshop = work.workshop
    year = year_of(workshop, work.given["year"])
    tables = year_tables(workshop, year)
    # without a name: gone when nobody has it open any more, whatever happens to this worker
    packed = tempfile.TemporaryFile(dir=settings.FILE_UPLOAD_TEMP_DIR)  # noqa: SIM115
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        left_out = _pack_papers(archive, papers_of(workshop, year), watch)
        archive.writestr("read-me.txt", read_me(workshop, year, tables, left_out))
        for table in watch.each(tables, "Writing lists"):
            rows = list(table.rows())
            archive.writestr(f"csv/{table.name}.csv", write_csv(table.columns, rows))
            title = table.name.replace("-", " ").capitalize()
            archive.writestr(
                f"xlsx/{table.name}.xlsx", write_xlsx(table.columns, rows, title=title)
            )
    name = f"{workshop.slug}-tax-year-{year.name.replace('/', '-')}.zip"
    file = File(name, ZIP_TYPE, opened=packed)
    says = [("success", "The accountant’s pack is ready.")]
    if left_out:
        papers = count_text(len(left_out), "photo or PDF", "photos or PDFs")
        verb = "is" if len(left_out) == 1 else "are"
        says.append(("warning", f"{papers} {verb} not in it. read-me.txt says which."))
    return lambda: Outcome(says=says, file=file)
