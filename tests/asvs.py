"""How the program stands to OWASP ASVS 5.0, level 2: `python -m tests.asvs [--not-met]`.

The list is tests/data/asvs_5_level_2.csv: numbers and levels of the standard (version 5.0.0, its
requirements of levels 1 and 2), the words our own. `tests/rules/test_asvs.py` keeps it honest.
"""

import csv
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).parent / "data" / "asvs_5_level_2.csv"
STATES = ("met", "not applicable", "not met")
CHAPTERS = {
    1: "Encoding and sanitization",
    2: "Validation and business logic",
    3: "Web frontend security",
    4: "API and web service",
    5: "File handling",
    6: "Authentication",
    7: "Session management",
    8: "Authorization",
    9: "Self-contained tokens",
    10: "OAuth and OIDC",
    11: "Cryptography",
    12: "Secure communication",
    13: "Configuration",
    14: "Data protection",
    15: "Secure coding and architecture",
    16: "Security logging and error handling",
    17: "WebRTC",
}


@dataclass(frozen=True, slots=True)
class Requirement:
    """One line: what is asked, how it stands, why, and the test that shows it."""

    number: tuple[int, int, int]
    level: int
    words: str
    state: str
    reason: str
    test: str


def requirements() -> list[Requirement]:
    """Return the list in the standard's order."""
    with FILE.open(newline="", encoding="utf-8") as file:
        return [
            Requirement(
                number=tuple(int(part) for part in row["number"].split(".")),  # type: ignore[arg-type]
                level=int(row["level"]),
                words=row["requirement"],
                state=row["state"],
                reason=row["reason"],
                test=row["test"],
            )
            for row in csv.DictReader(file)
        ]


def told(only_not_met: bool) -> str:
    """Return the table of counts, after each requirement or those that are not met."""
    every, lines = requirements(), []
    for each in every:
        if not only_not_met or each.state == "not met":
            name = ".".join(map(str, each.number))
            why = "; ".join(filter(None, (each.reason, each.test)))
            lines.append(f"{name:<8}{each.state:<16}{each.words}{f' ({why})' if why else ''}")
    heading = "".join(f"{state:>16}" for state in STATES)
    lines += ["", f"{'OWASP ASVS 5.0, level 2':<40}{heading}"]
    for chapter, name in CHAPTERS.items():
        counts = Counter(each.state for each in every if each.number[0] == chapter)
        figures = "".join(f"{counts[state]:>16}" for state in STATES)
        lines.append(f"{f'{chapter} {name}':<40}{figures}")
    counts = Counter(each.state for each in every)
    figures = "".join(f"{counts[state]:>16}" for state in STATES)
    lines.append(f"{f'All {len(every)}':<40}{figures}")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(told("--not-met" in sys.argv[1:]) + "\n")
