"""Square codes (QR) for pages: what a phone's camera reads from the screen."""

from django.utils.safestring import SafeString, mark_safe


def code_square(text: str) -> SafeString:
    """Return the code as a picture for a page."""
    import segno

    code = segno.make_qr(text, error="m")
    # made of squares by us alone: nothing of the text is in it as text
    return mark_safe(  # noqa: S308
        code.svg_inline(scale=6, border=4, light="#ffffff", omitsize=True, svgclass="code-square")
    )
