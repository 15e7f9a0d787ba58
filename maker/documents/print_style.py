"""The look of a plain printed page: paper, one ink, one accent; what folds is dashed."""

from babel import Locale

from maker.documents.pdf import FONT_FAMILY

INK, SOFT, ACCENT, EDGE, HAIRLINE = "#1f2747", "#4c5370", "#0b6b5d", "#857a66", "#d8cdb6"

# Paper of most printers there: Unicode CLDR, supplemental measurement data, paper size US-Letter
# (Unicode Technical Standard 35, part 6); everywhere else it is A4.
_LETTER = {"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"}


def paper_of(locale: str) -> str:
    """Return the usual paper of a place: letter or A4."""
    return "letter" if Locale.parse(locale).territory in _LETTER else "A4"


def print_css(paper: str) -> str:
    """Return the style of a page with a letterhead, a heading, a table and notes.

    The body says in `data-name` what the foot of every page says.
    """
    quiet = f"font-size: 8.5pt; color: {SOFT}; vertical-align: top; padding-top: 4mm"
    return f"""
@page {{
  size: {paper}; margin: 18mm 18mm 22mm;
  @bottom-left {{ content: string(name); {quiet}; width: 75% }}
  @bottom-right {{ content: "Page " counter(page) " of " counter(pages); {quiet}; width: 25% }}
}}
html {{ font-family: {FONT_FAMILY}; font-size: 10pt; line-height: 1.38; color: {INK};
  overflow-wrap: anywhere }}
body, h1, h2, p, ul, table {{ margin: 0; padding: 0 }}
body {{ string-set: name attr(data-name) }}
.letterhead {{ display: flex; justify-content: space-between; padding-bottom: 5mm;
  border-bottom: 0.35mm dashed {EDGE}; margin-bottom: 8mm }}
.shop {{ width: 58%; font-size: 19pt; line-height: 1.15; font-weight: 700 }}
.contact {{ width: 38%; font-size: 8.5pt; text-align: right; color: {SOFT} }}
h1 {{ font-size: 17pt; line-height: 1.2; color: {ACCENT} }}
h2 {{ font-size: 12pt; line-height: 1.25; margin: 8mm 0 2mm; break-after: avoid }}
.subject {{ margin-top: 1.5mm; font-size: 11pt }}
.item-shown {{ float: right; width: 52mm; margin: 0 0 4mm 6mm }}
.rows {{ width: 100%; border-collapse: collapse; margin-top: 6mm }}
.rows th {{ text-align: left; font-weight: 700; font-size: 9pt; color: {SOFT};
  border-bottom: 0.5mm solid {INK}; padding: 0 3mm 1.2mm 0; vertical-align: bottom }}
.rows tbody th {{ font-size: 10pt; color: {INK}; border-bottom: 0.15mm solid {HAIRLINE};
  padding: 1.8mm 3mm 1.8mm 0; vertical-align: top }}
.rows td {{ border-bottom: 0.15mm solid {HAIRLINE}; padding: 1.8mm 3mm 1.8mm 0;
  vertical-align: top }}
.rows .number {{ text-align: right; white-space: nowrap }}
.rows tr {{ break-inside: avoid }}
.rows tfoot td, .rows tfoot th {{ border-bottom: 0; border-top: 0.5mm solid {INK};
  font-size: 12pt; font-weight: 700; color: {ACCENT}; padding-top: 2mm }}
/* sums stand once, under the last row, not at the end of each page */
.rows tfoot {{ display: table-row-group }}
.note {{ margin-top: 3mm; font-size: 9pt; color: {SOFT} }}
.caution {{ margin-top: 3mm; font-size: 9pt; color: #a11d33 }}
"""
