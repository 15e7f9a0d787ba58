"""What people read keeps to plain words: no translated phrases, and one word for one thing.

Templates and strings of the program are searched for phrases, not bare words: "box", "one" and
"form" have other uses. Docstrings, comments and names in code are not read by anybody on a screen.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = ("maker", "catalogue", "pricing")
# what is searched
SEARCHED = FOLDERS

# why it is refused -> what is refused
PHRASES = {
    "a button says what happens next": (
        r"\bGive it its number\b|\bPut them in\b|\bKeep the (?:yes|no)\b|\bWork it out\b"
        r"|\bDraw it\b|^Enter it$|\bTake it to the bench\b"
    ),
    "an error says what is wrong and what to enter": (
        r"(?<![Tt]here )\b(?:is|was) no (?!longer\b|more\b)|\b[Mm]end(?:ed)?\b"
        r"|\bSay (?:how|what|why|which|who|both|below|so|for)\b|\bis a slip\b|\bis nobody's\b"
        r"|\b[Tt]ype (?:the|it|what|how|in|whole|your|her|a (?!of)|an)\b"
    ),
    "nobody says anything to a program": (
        r"\bnothing is said\b|\bas the (?:sheet|material|kind) says\b|\bare said\b|\bthe yes\b"
    ),
    "things are shown, printed or placed; they do not stand": (
        r"\bstands? (?:under|on|in|below|beside|here|there|apart|at|against|after|above|single)\b"
    ),
    "now": r"\bby now\b|\bof now\b",
    "expensive things cost more": r"\bdearer\b",
    "per": (
        r"\d a (?:sheet|job|pass|batch|metre|piece|page)\b"
        r"|\b(?:min|wage) an? (?:hour|job|pass)\b"
    ),
    "date": r"^(?:On which day|Day|Which day)$|\bno day\b",
    "postage comes in, delivery goes out": r"\bcarriage\b",
    "archive, restore": r"\b[Pp]ut away\b|\b[Bb](?:ring|rought) (?:\w+ )?back\b|\boff the list\b",
    "undo": r"\b[Tt]ak(?:e|en|es) (?:it |that |them |this |the \w+ )?back\b|\bout of the box\b",
    "locked": r"\bfrozen\b",
    "in stock": r"\bon the shelf\b|\bthe shelf\b|\bledger\b|\b[Oo]n hand\b|\bin(?:to)? the box\b",
    "item": r"\bgood ones?\b|\beach one made\b|\bthe thing (?:itself|is|was)\b|\b[Cc]ost of one\b",
    "spoiled, spares": r"\brejects\b|\bno good\b|\bgo(?:es)? wrong in\b",
    "lowest price": r"\b(?:[Bb]elow|[Aa]bove) the floor\b|\bthe floor "
    "(?:of|price)\b|\b[Ww]alk away\b",
    "suggested price": r"\bwhat to ask\b|\b[Aa]sk (?:€|\{|these|each|for one)|\bthen ask\b",
    "sales channel": r"\b[Ss]old through\b",
    "stall fee": r"\bstand fee\b|\bpitch fee\b",
    "shape": r"\b(?:from|choose|no such|of a|which) (?:a )?form\b|\b[Aa]ll forms\b|^Forms?$",
    "margin is profit; a die has a border": r"\b[Mm]argin around\b|\bdie margin\b",
    "timer": r"\b(?:[Nn]o|[Tt]he|[Tt]his|a) watch\b|\b[Ss]tart a watch\b",
    "viewer, editor": r"^(?:Reader|Helper)\b|\b(?:Reader|Helper):",
    "blank, not empty with a colon": r"\bEmpty:",
    "labels are nouns": r"^(?:Of which|Of how many|Lasts for|Called|Used as|Takes "
    "it|Which|What for)$",
}
# a phrase that is right where it is, and why
EXCEPTIONS = {
    "Put the gun on a stand": "a holder for a glue gun",
    "stands on the table": "a lid does",
    "the base stands there": "in the wall of a cup",
    "Ask {} for its link": "the customer asks a person",
    "Ask {} for a new one": "the customer asks a person",
    "taken back": "the state of a receipt in our files before, which still come in",
    "Day": "a heading of our files before, which still come in",
}
DOCSTRING_OWNERS = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
COMMENT = re.compile(r"{%\s*comment.*?endcomment\s*%}|{#.*?#}", re.S)
TAG = re.compile(r"{[{%].*?[%}]}|<[^>]*>", re.S)
# keys, names of fields and of explanations; no sentence is written like that
NAME = re.compile(r"[a-z0-9_.:{}-]+")
SAID_IN_A_TAG = re.compile(r"(?:text|title|action|label|head|amount|more)=\"([^\"]*)\"")


def wrong(text: str) -> list[str]:
    """Return why a text is refused, empty when nothing is wrong with it."""
    if NAME.fullmatch(text):
        return []
    for right in EXCEPTIONS:
        text = text.replace(right, "")
    return [why for why, pattern in PHRASES.items() if re.search(pattern, text)]


def texts_of_template(path: Path) -> Iterator[str]:
    """What a template shows: what is between its tags, and what is said in them."""
    source = COMMENT.sub("", path.read_text(encoding="utf-8"))
    yield from SAID_IN_A_TAG.findall(source)
    yield from (part.strip() for part in TAG.sub("\n", source).split("\n") if part.strip())


def texts_of_module(path: Path) -> Iterator[str]:
    """The strings of a module without its docstrings; a value put into one shows as {}."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, DOCSTRING_OWNERS) and ast.get_docstring(node, clean=False) is not None:
            first = node.body[0]
            assert isinstance(first, ast.Expr)
            skipped.add(id(first.value))
        elif isinstance(node, ast.JoinedStr):
            skipped.update(id(value) for value in node.values)
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
            )
        elif (
            isinstance(node, ast.Constant)
            and id(node) not in skipped
            and isinstance(node.value, str)
        ):
            yield node.value


def _templates(folder: str) -> list[Path]:
    every = sorted((ROOT / "templates").rglob("*.html"))
    if folder != "shared":
        return [path for path in every if path.is_relative_to(ROOT / "templates" / folder)]
    own = [ROOT / "templates" / name for name in FOLDERS]
    return [path for path in every if not any(path.is_relative_to(one) for one in own)]


def _modules(folder: str) -> list[Path]:
    found = sorted((ROOT / folder).rglob("*.py"))
    return [path for path in found if "migrations" not in path.parts]


def _found(paths: list[Path], texts: object) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}: {text[:90]!r} ({', '.join(why)})"
        for path in paths
        for text in texts(path)  # type: ignore[operator]
        if (why := wrong(text))
    ]


@pytest.mark.parametrize("folder", [*SEARCHED, "shared"])
def test_templates_speak_plainly(folder: str) -> None:
    assert _templates(folder)
    assert not _found(_templates(folder), texts_of_template)


@pytest.mark.parametrize("folder", SEARCHED)
def test_strings_speak_plainly(folder: str) -> None:
    assert _modules(folder)
    assert not _found(_modules(folder), texts_of_module)


@pytest.mark.parametrize(
    "text",
    [
        "“abc” is no number", "Mend that, then run this again.", "Say how many", "Type the day.",
        "It stands on documents", "there is version 3 by now", "€6.99 dearer", "1 a sheet",
        "Put away", "Take back", "This version is frozen", "7 on the shelf", "cost of one good one",
        "Below the floor", "Sold through", "stand fee", "folded from a form", "the die margin",
        "No watch runs.", "Reader: may look", "Empty: not rounded.", "Used as", "with carriage",
    ],
)  # fmt: skip
def test_the_phrases_of_before_are_refused(text: str) -> None:
    assert wrong(text)


@pytest.mark.parametrize(
    "text",
    [
        "There is no shape called “tag”.", "It is no longer here.", "Enter a number, like 7.5",
        "The form could not be sent.", "A box of ten", "No one is here", "per sheet",
        "Put the gun on a stand", "a sheet of card", "Lowest price", "What is new",
    ],
)  # fmt: skip
def test_plain_words_pass(text: str) -> None:
    assert not wrong(text)
