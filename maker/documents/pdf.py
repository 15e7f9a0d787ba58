"""The only door to WeasyPrint: HTML and CSS in, a tagged PDF with embedded fonts out."""

import logging
import re
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from maker.calc.refusal import Refusal
from maker.documents.scratch import scratch_folder
from maker.documents.stamping import Stamp, stamp_pages

_FONTS = Path(__file__).resolve().parent.parent.parent / "static" / "fonts"
_FONT_NAME = re.compile(r"[a-z0-9-]+\.woff2")

# Two families, because WeasyPrint does not merge two files of one family by unicode-range.
FONT_CSS = "\n".join(
    f"@font-face {{ font-family: '{family}'; font-weight: {weight};"
    f" src: url('app:source-sans-3-{part}-{weight}-normal.woff2'); }}"
    for family, part in (("Pleat Sans", "latin"), ("Pleat Sans Ext", "latin-ext"))
    for weight in (400, 700)
)
FONT_FAMILY = "'Pleat Sans', 'Pleat Sans Ext', sans-serif"


class PdfLibraryMissing(Refusal):
    """The machine lacks a library that draws text into PDFs."""


@cache
def _font(name: str) -> bytes:
    """Return a font unpacked: WeasyPrint would do it anew for each document, in half its time."""
    from fontTools.ttLib import woff2

    unpacked = BytesIO()
    woff2.decompress(BytesIO((_FONTS / name).read_bytes()), unpacked)
    return unpacked.getvalue()


def _fetcher() -> Any:
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OwnFilesOnly(URLFetcher):
        """Serves our fonts by name and data: addresses; nothing else is ever opened.

        WeasyPrint's own fetcher would read any file of the machine that a text names.
        """

        def fetch(self, url: str, headers: Any = None) -> Any:
            if url.startswith("app:"):
                name = url.removeprefix("app:")
                if not _FONT_NAME.fullmatch(name):
                    raise ValueError(f"No font of ours: {url}")
                return URLFetcherResponse(url, _font(name))
            return super().fetch(url, headers)

    return OwnFilesOnly(allowed_protocols=["data"], fail_on_errors=True)


class _PageListener(logging.Handler):
    """Hears of each page as it is laid out: WeasyPrint tells its progress to a logger of its own.

    What the listener raises ends the drawing.
    """

    def __init__(self, on_page: Callable[[int], None]) -> None:
        super().__init__(logging.INFO)
        self.on_page, self.thread_id = on_page, threading.get_ident()

    def emit(self, record: logging.LogRecord) -> None:
        """Pass on the number of a page."""
        is_page = "Creating layout - Page" in str(record.msg)
        if is_page and record.thread == self.thread_id and isinstance(record.args, tuple):
            self.on_page(int(str(record.args[0])))


@contextmanager
def _listening(on_page: Callable[[int], None] | None) -> Iterator[None]:
    if on_page is None:
        yield
        return
    progress = logging.getLogger("weasyprint.progress")
    listener, before = _PageListener(on_page), (progress.level, progress.propagate)
    progress.addHandler(listener)
    progress.setLevel(logging.INFO)
    progress.propagate = False
    try:
        yield
    finally:
        level, progress.propagate = before
        progress.setLevel(level)
        progress.removeHandler(listener)


def render_pdf(
    *,
    html: str,
    css: str,
    on_page: Callable[[int], None] | None = None,
    stamps: Sequence[Stamp] = (),
    pictures: int = 0,
    variant: str = "pdf/ua-1",
) -> bytes:
    """Draw a document; `html` needs a title, a language and its first heading an h1.

    The last `pictures` pages are no pages: they are put on the others as `stamps` say.

    The PDF is made as `variant` says: tagged, as PDF/UA-1, unless another is asked for. `on_page`
    hears the number of each page that is laid out, for work that says how far it is; what it raises
    ends the drawing. Errors: PdfLibraryMissing names what to install.
    """
    try:
        from weasyprint import CSS, HTML
        from weasyprint.text.fonts import FontConfiguration
    except OSError as missing:
        raise PdfLibraryMissing(
            "PDFs need the system libraries libpango-1.0-0, libpangoft2-1.0-0 and "
            "libharfbuzz-subset0: run “python3 manage.py setup”."
        ) from missing
    fetcher = _fetcher()
    fonts = FontConfiguration()
    # it unpacks our fonts into this folder, and deletes it in the end
    fonts._folder = scratch_folder()
    sheet = CSS(string=FONT_CSS + css, font_config=fonts, url_fetcher=fetcher)
    document = HTML(string=html, url_fetcher=fetcher)
    with _listening(on_page):
        written = document.write_pdf(
            stylesheets=[sheet],
            font_config=fonts,
            pdf_variant=variant,
            finisher=lambda _, pdf: stamp_pages(pdf, stamps, pictures) if pictures else None,
        )
    return bytes(written)
