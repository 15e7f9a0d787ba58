"""What a file of rows may hold, counted while it is read, before there is a grid of it.

A small file can claim a huge table: one cell in the last column of row 5,999, a heading of 20,000
commas, one text that half a million cells point to. So the readers hand over cell by cell what
is filled, and the first cell over a limit ends the reading.
"""

from dataclasses import dataclass, field

from maker.calc.refusal import Refusal

MOST_BYTES = 5 * 1024 * 1024
MOST_ROWS_READ = 20_000
MOST_COLUMNS = 100
MOST_CELL = 20_000
# empty cells are left out, but somebody has to look at them
MOST_WIDE = 1_024
MOST_CELLS = 400_000


class UnreadableFile(Refusal):
    """This file is not a table, or is too large a one."""


@dataclass(frozen=True, slots=True)
class Table:
    """What a file says: headings, and rows of text as wide as the headings.

    `numbers` are the rows as a spreadsheet counts them; empty rows are left out.
    """

    heading: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]


@dataclass(slots=True)
class Grid:
    """The filled cells of a file so far, row by row; `cells_seen` counts the empty ones too."""

    cells_seen: int = 0
    _letters: int = 0
    _rows: list[tuple[int, list[str]]] = field(default_factory=list)

    def add(self, row: int, column: int, text: str) -> None:
        """Take in the next cell; row and column count from 1. Errors: UnreadableFile."""
        self.cells_seen += 1
        if column > MOST_WIDE or (text and column > MOST_COLUMNS):
            raise UnreadableFile(f"There are more than {MOST_COLUMNS} columns, in row {row}.")
        if self.cells_seen > MOST_CELLS:
            raise UnreadableFile(f"There are more than {MOST_CELLS:,} cells. Split the file.")
        if not text:
            return
        if len(text) > MOST_CELL:
            raise UnreadableFile(f"A cell in row {row} is longer than {MOST_CELL} characters.")
        self._letters += len(text)
        if self._letters > MOST_BYTES:
            raise UnreadableFile("There is more text than we can read. Split the file.")
        if not self._rows or self._rows[-1][0] != row:
            # the heading and the rows
            if len(self._rows) > MOST_ROWS_READ:
                raise UnreadableFile(
                    f"There are more than {MOST_ROWS_READ:,} rows. Split the file."
                )
            self._rows.append((row, []))
        cells = self._rows[-1][1]
        cells.extend([""] * (column - 1 - len(cells)))
        cells.append(text)

    def table(self) -> Table:
        """Return the first filled row as the heading, and the others. Errors: UnreadableFile."""
        if not self._rows:
            raise UnreadableFile("The file is empty.")
        heading = tuple(" ".join(cell.split()) for cell in self._rows[0][1])
        rows = []
        for number, cells in self._rows[1:]:
            if len(cells) > len(heading):
                raise UnreadableFile(f"A cell in row {number} has no heading.")
            rows.append((*cells, *[""] * (len(heading) - len(cells))))
        return Table(heading, tuple(rows), tuple(number for number, _ in self._rows[1:]))
