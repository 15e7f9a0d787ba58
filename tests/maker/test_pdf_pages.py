"""A PDF that takes long says which page it is at and can be ended; fonts are unpacked once."""

import logging

import pytest
from fontTools.ttLib import woff2

from maker.documents import pdf
from maker.documents.pdf import render_pdf

HTML = '<html lang="en"><title>Three</title><body><h1>Three</h1>' + "<p>page</p>" * 3
CSS = "p { break-before: page }"


class Enough(Exception):
    """Raised by a listener."""


def test_each_page_is_heard_of_and_the_log_is_as_before() -> None:
    progress = logging.getLogger("weasyprint.progress")
    before = (progress.level, progress.propagate, list(progress.handlers))
    heard: list[int] = []
    silent = render_pdf(html=HTML, css=CSS)
    assert render_pdf(html=HTML, css=CSS, on_page=heard.append)[:5] == silent[:5] == b"%PDF-"
    assert heard == [1, 2, 3, 4]
    assert (progress.level, progress.propagate, list(progress.handlers)) == before


def test_what_the_listener_raises_ends_the_drawing() -> None:
    def stop(page: int) -> None:
        if page == 2:
            raise Enough

    with pytest.raises(Enough):
        render_pdf(html=HTML, css=CSS, on_page=stop)
    assert not logging.getLogger("weasyprint.progress").handlers


def test_fonts_are_unpacked_for_the_first_document_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    unpacked: list[object] = []
    unpack = woff2.decompress
    monkeypatch.setattr(
        woff2, "decompress", lambda packed, out: unpacked.append(packed) or unpack(packed, out)
    )
    pdf._font.cache_clear()
    first = render_pdf(html=HTML, css=CSS)
    assert len(unpacked) == len(list(pdf._FONTS.glob("*.woff2")))
    assert render_pdf(html=HTML, css=CSS) == first
    assert len(unpacked) == len(list(pdf._FONTS.glob("*.woff2")))
