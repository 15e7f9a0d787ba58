"""What every drawn chart is made of: its colours, its frame, lines and words, as SVG text.

Places across are text, so that a chart may be as wide as its place (`12.50%`) while its words keep
their size, or be scaled as a whole (`12.5`).
"""

from html import escape

INK = "#1f2747"
SOFT = "#4c5370"
HAIRLINE = "#d8cdb6"
ACCENT = "#0b6b5d"
GROUND = "#fffdf8"


def opened(
    name: str, title: str, description: str, *, look: str, size: str, role: str = "img"
) -> str:
    """Begin a chart that says in words what it shows; `name` keeps ids of a page apart.

    Links inside are heard only where its `role` is a group.
    """
    return (
        f'<svg class="{look}" {size} role="{role}" '
        f'aria-labelledby="{name}-title {name}-description" '
        f'xmlns="http://www.w3.org/2000/svg"><title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-description">{escape(description)}</desc>'
    )


def line(start: tuple[str, float], end: tuple[str, float], look: str) -> str:
    """Draw a straight line."""
    (x1, y1), (x2, y2) = start, end
    return f'<line x1="{x1}" y1="{y1:.1f}" x2="{x2}" y2="{y2:.1f}" {look}/>'


def text(
    x: str, y: float, words: str, *, anchor: str = "middle", size: int = 14, colour: str = SOFT
) -> str:
    """Write words that begin, end or have their middle at x."""
    return (
        f'<text x="{x}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" '
        f'fill="{colour}">{escape(words)}</text>'
    )
