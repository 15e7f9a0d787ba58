"""Label sheets: where each label of a sheet lies, in millimetres from the page's top left."""

from dataclasses import dataclass
from decimal import Decimal

from maker.calc.refusal import Refusal
from maker.calc.units import format_length

# Half a unit of the last printed digit of a datasheet: labels may "overlap" by rounding.
_TOLERANCE_MM = Decimal("0.05")


class LabelsDoNotFit(Refusal):
    """The labels leave the page or lie on each other."""


@dataclass(frozen=True, slots=True)
class LabelGeometry:
    """A page of equal labels; all lengths in mm, `pitch` from edge to same edge."""

    page_width: Decimal
    page_height: Decimal
    columns: int
    rows: int
    label_width: Decimal
    label_height: Decimal
    left: Decimal
    top: Decimal
    pitch_x: Decimal
    pitch_y: Decimal

    @property
    def per_page(self) -> int:
        """How many labels a page has."""
        return self.columns * self.rows

    def x(self, column: int) -> Decimal:
        """Left edge of a column, from 0."""
        return self.left + column * self.pitch_x

    def y(self, row: int) -> Decimal:
        """Top edge of a row, from 0."""
        return self.top + row * self.pitch_y


def _geometry(
    page: str, grid: tuple[int, int], label: str, first: str, pitch: str
) -> LabelGeometry:
    """Return a sheet from sizes written as `width height` in mm."""

    def pair(text: str) -> tuple[Decimal, Decimal]:
        width, height = text.split()
        return Decimal(width), Decimal(height)

    (page_width, page_height), (label_width, label_height) = pair(page), pair(label)
    (left, top), (pitch_x, pitch_y) = pair(first), pair(pitch)
    return LabelGeometry(
        page_width=page_width,
        page_height=page_height,
        columns=grid[0],
        rows=grid[1],
        label_width=label_width,
        label_height=label_height,
        left=left,
        top=top,
        pitch_x=pitch_x,
        pitch_y=pitch_y,
    )


_A4, _LETTER = "210 297", "215.9 279.4"

# Common sizes of label sheets; common practice, no source. Names say what they are: `{size}` is
# the size of one label in the unit of the workshop.
COMMON_SHEETS: dict[str, tuple[str, LabelGeometry]] = {
    "a4-24": (
        "A4, 24 labels of {size}",
        _geometry(_A4, (3, 8), "70 37", "0 0.5", "70 37"),
    ),
    "a4-21": (
        "A4, 21 labels of {size}",
        _geometry(_A4, (3, 7), "63.5 38.1", "7.25 15.15", "66 38.1"),
    ),
    "a4-65": (
        "A4, 65 labels of {size}",
        _geometry(_A4, (5, 13), "38.1 21.2", "4.75 10.7", "40.6 21.2"),
    ),
    "a4-card": (
        "A4 card, 10 tags of {size} to cut",
        _geometry(_A4, (2, 5), "90 50", "15 13.5", "90 54"),
    ),
    "a4-hanging": (
        "A4 card, 12 hanging tags of {size} to cut",
        _geometry(_A4, (4, 3), "45 85", "15 21", "45 85"),
    ),
    "a4-folded": (
        "A4 card, 9 folded tags of {size} to cut",
        _geometry(_A4, (3, 3), "60 84", "15 22.5", "60 84"),
    ),
    "a4-table": (
        "A4 card, 4 table cards of {size} to cut",
        _geometry(_A4, (2, 2), "90 130", "15 18.5", "90 130"),
    ),
    "letter-30": (
        "Letter, 30 labels of {size}",
        _geometry(_LETTER, (3, 10), "66.675 25.4", "4.7625 12.7", "69.85 25.4"),
    ),
    "letter-10": (
        "Letter, 10 labels of {size}",
        _geometry(_LETTER, (2, 5), "101.6 50.8", "4.0 12.7", "106.3 50.8"),
    ),
    "letter-20": (
        "Letter, 20 labels of {size}",
        _geometry(_LETTER, (2, 10), "101.6 25.4", "4.0 12.7", "106.3 25.4"),
    ),
    "letter-80": (
        "Letter, 80 labels of {size}",
        _geometry(_LETTER, (4, 20), "44.45 12.7", "7.14375 12.7", "52.3875 12.7"),
    ),
    "letter-card": (
        "Letter card, 10 tags of {size} to cut",
        _geometry(_LETTER, (2, 5), "88.9 50.8", "15.875 12.7", "95.25 50.8"),
    ),
    "letter-card-small": (
        "Letter card, 24 tags of {size} to cut",
        _geometry(_LETTER, (4, 6), "50.8 38.1", "6.35 25.4", "50.8 38.1"),
    ),
    "letter-hanging": (
        "Letter card, 12 hanging tags of {size} to cut",
        _geometry(_LETTER, (4, 3), "44.45 82.55", "19.05 15.875", "44.45 82.55"),
    ),
    "letter-folded": (
        "Letter card, 9 folded tags of {size} to cut",
        _geometry(_LETTER, (3, 3), "60.325 82.55", "17.4625 15.875", "60.325 82.55"),
    ),
    "letter-table": (
        "Letter card, 4 table cards of {size} to cut",
        _geometry(_LETTER, (2, 2), "88.9 120.65", "19.05 19.05", "88.9 120.65"),
    ),
}


def common_sheets(paper: str, unit: str, locale: str = "en_GB") -> list[tuple[str, str]]:
    """Return key and name of the common sheets, those of the workshop's paper first.

    `paper` is "A4" or "letter"; sizes are in `unit` ("in" or "mm").
    """
    own = [key for key in COMMON_SHEETS if key.startswith(paper.lower())]
    rest = [key for key in COMMON_SHEETS if key not in own]
    return [(key, _sheet_name(key, unit, locale)) for key in (*own, *rest)]


def _sheet_name(key: str, unit: str, locale: str) -> str:
    name, geometry = COMMON_SHEETS[key]
    sides = (geometry.label_width, geometry.label_height)
    width, height = (format_length(side, unit, locale).rsplit(" ", 1)[0] for side in sides)
    return name.format(size=f"{width} x {height} {unit}")


def check_geometry(geometry: LabelGeometry, unit: str = "mm", locale: str = "en_GB") -> None:
    """Refuse a sheet whose labels leave the page or overlap, saying by how much."""

    def said(length_mm: Decimal) -> str:
        return format_length(length_mm, unit, locale)

    right = geometry.x(geometry.columns - 1) + geometry.label_width
    if right > geometry.page_width + _TOLERANCE_MM:
        raise LabelsDoNotFit(
            f"The last column ends at {said(right)}, the page is {said(geometry.page_width)} wide.",
            where="columns",
        )
    bottom = geometry.y(geometry.rows - 1) + geometry.label_height
    if bottom > geometry.page_height + _TOLERANCE_MM:
        raise LabelsDoNotFit(
            f"The last row ends at {said(bottom)}, the page is {said(geometry.page_height)} high.",
            where="rows",
        )
    if geometry.columns > 1 and geometry.pitch_x + _TOLERANCE_MM < geometry.label_width:
        raise LabelsDoNotFit(
            f"Columns start every {said(geometry.pitch_x)} but labels are "
            f"{said(geometry.label_width)} wide, so they would overlap.",
            where="pitch_x_mm",
        )
    if geometry.rows > 1 and geometry.pitch_y + _TOLERANCE_MM < geometry.label_height:
        raise LabelsDoNotFit(
            f"Rows start every {said(geometry.pitch_y)} but labels are "
            f"{said(geometry.label_height)} high, so they would overlap.",
            where="pitch_y_mm",
        )


@dataclass(frozen=True, slots=True)
class Place:
    """One label's place: page, column and row, all from 0."""

    page: int
    column: int
    row: int


def places(geometry: LabelGeometry, count: int, start_at: int = 1) -> list[Place]:
    """Return where `count` labels go, row by row, when the first `start_at - 1` are used up.

    Errors: LabelsDoNotFit when the sheet has no label number `start_at`.
    """
    if not 1 <= start_at <= geometry.per_page:
        raise LabelsDoNotFit(
            f"This sheet has labels 1 to {geometry.per_page}, so there is no label {start_at}.",
            where="start_at",
        )
    result = []
    for number in range(start_at - 1, start_at - 1 + count):
        page, on_page = divmod(number, geometry.per_page)
        row, column = divmod(on_page, geometry.columns)
        result.append(Place(page, column, row))
    return result


@dataclass(frozen=True, slots=True)
class TagType:
    """Type sizes of a tag in mm and which of the small lines have room."""

    padding: Decimal
    price: Decimal
    name: Decimal
    small: Decimal
    small_lines: int
    name_lines: int
    qr: Decimal  # side of the code; zero: no room


def tag_type(geometry: LabelGeometry, *, with_qr: bool, is_large: bool = False) -> TagType:
    """Choose sizes that fit the label: price and name always, small lines as many as fit.

    `is_large` is for what is read from a step away: price and name take what room there is. Small
    print is never below 1.9 mm (about 5.4 pt); common practice, no source.
    """
    height, width = geometry.label_height, geometry.label_width
    padding = min(Decimal("3"), max(Decimal("1.2"), height * Decimal("0.07")))
    inner = height - 2 * padding
    price = min(Decimal("8"), inner * Decimal("0.27"), width * Decimal("0.16"))
    name = min(Decimal("4.6"), max(Decimal("2.2"), inner * Decimal("0.14")))
    if is_large:
        price = min(Decimal("20"), inner * Decimal("0.32"), width * Decimal("0.24"))
        name = min(
            Decimal("8"), max(Decimal("2.6"), inner * Decimal("0.11")), width * Decimal("0.1")
        )
    small = min(Decimal("2.9"), max(Decimal("1.9"), inner * Decimal("0.09")))
    lead = Decimal("1.22")
    left_over = inner - lead * price - lead * name
    name_lines = 2 if left_over >= lead * (name + 2 * small) else 1
    if name_lines == 2:
        left_over -= lead * name
    lines = max(0, int(left_over / (lead * small)))
    qr = Decimal(0)
    if with_qr:
        # 21 modules and a quiet zone of 4 on each side (ISO/IEC 18004) at 0.4 mm or more
        qr = min(inner, width * Decimal("0.36"), Decimal("22"))
        if qr < Decimal("10"):
            qr = Decimal(0)
    return TagType(padding, price, name, small, lines, name_lines, qr)
