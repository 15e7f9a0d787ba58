"""The one reader of JSON from outside: what it takes exactly, and what it refuses with its path.

What JSON itself allows is RFC 8259: section 4 leaves open what a key given twice means, section 6
has no NaN or Infinity, section 8.1 wants UTF-8 without a byte order mark but lets readers skip one.
"""

import datetime
import json
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maker.calc.json_values import value_of, written
from maker.calc.strict_json import (
    DEEPEST,
    LARGEST_FILE,
    Fields,
    WrongJson,
    count,
    day,
    decimal,
    list_of,
    mapping_of,
    number,
    one_of,
    or_none,
    parse,
    record,
    shown,
    text,
    tuple_of,
    whole,
    yes_no,
)


def refusal_of(act, *arguments):
    with pytest.raises(WrongJson) as refused:
        act(*arguments)
    assert refused.value.message.endswith(".")
    return refused.value


def refused_at(act, *arguments):
    """Return where it is refused, if it is."""
    try:
        act(*arguments)
    except WrongJson as refused:
        return refused.where
    return ""


def test_numbers_are_exact_and_of_the_kind_they_are_written_in():
    found = parse('{"a": 0.1000000000000000055511151231257827, "b": 12, "c": 12.0, "d": -1.5e-3}')
    assert found == {
        "a": Decimal("0.1000000000000000055511151231257827"),
        "b": 12,
        "c": Decimal("12.0"),
        "d": Decimal("-0.0015"),
    }
    assert [type(value) for value in found.values()] == [Decimal, int, Decimal, Decimal]


@pytest.mark.parametrize(
    "content", ['{"a": "é"}', b'{"a": "\xc3\xa9"}', b'\xef\xbb\xbf{"a": "\xc3\xa9"}']
)
def test_text_utf_8_and_utf_8_with_a_mark_are_the_same(content):
    assert parse(content) == {"a": "é"}


@pytest.mark.parametrize(
    ("content", "where"),
    [
        ("", "line 1, column 1"),
        ("{", "line 1, column 2"),
        ('{"a": 1,}', "line 1, column 9"),
        ("{'a': 1}", "line 1, column 2"),
        ('{"a": 1}\n{"b": 2}', "line 2, column 1"),
        ('{"a": 01}', "line 1, column 8"),
        ('{"a": "tab\there"}', "line 1, column 11"),
        (b'{"a": "\xe9"}', "byte 7"),
        (b"\xff\xfe{\x00}\x00", "byte 0"),
        (b" " * (LARGEST_FILE + 1), "file"),
        (" " * (LARGEST_FILE + 1), "file"),
        ("[" * 100_000, "file"),
        ('{"a":' * 100_000, "file"),
        ("NaN", "file"),
        ('{"a": NaN}', "a"),
        ('{"a": [1, {"b": -Infinity}]}', "a[1].b"),
        ("[[], [Infinity]]", "[1][0]"),
        ('{"a": 1e999}', "a"),
        ('{"a": -1e-999}', "a"),
        ('{"a": 1e99999999999999999999}', "a"),
        ('{"a": {"b": [0, ' + "9" * 5000 + "]}}", "a.b[1]"),
        ('{"a": 0.' + "1" * 5000 + "}", "a"),
        ('{"a": 1, "a": 1}', "a"),
        ('{"a": [{}, {"b": 1, "c": 2, "b": 3}]}', "a[1].b"),
        ('{"": 1, "": 2}', "file"),
        ('{"a": 1, "\\u0061": 2}', "a"),
    ],
)
def test_what_is_not_plain_json_is_refused_with_its_place(content, where):
    assert refusal_of(parse, content).where == where


def test_as_deep_as_any_workshop_goes_and_not_deeper():
    assert parse("[" * DEEPEST + "]" * DEEPEST)
    deep = refusal_of(parse, "[" * (DEEPEST + 2) + "]" * (DEEPEST + 2))
    assert "too deeply" in deep.message
    assert len(deep.where) <= 200


def test_absurd_keys_and_values_do_not_swell_the_message():
    twice = refusal_of(parse, json.dumps({"k" * 10_000: 1})[:-1] + f', "{"k" * 10_000}": 2}}')
    assert len(twice.where) <= 80
    assert len(twice.message) < 80
    assert len(refusal_of(whole(), "x" * 10_000, "a").message) < 100
    assert [shown(value) for value in (None, True, 3, 10**30, {}, [])] == [
        "null",
        "true",
        "the number 3",
        "a number",
        "an object",
        "a list",
    ]


@pytest.mark.parametrize(
    ("reader", "raw", "value"),
    [
        (text, "", ""),
        (text, "two\nlines, ✂", "two\nlines, ✂"),
        (yes_no, False, False),
        (one_of("in", "mm"), "mm", "mm"),
        (whole(-2, 5), -2, -2),
        (decimal(), "-0.10", Decimal("-0.10")),
        (decimal(0, 1, places=2), "0.250", Decimal("0.25")),
        (number(), 7, Decimal(7)),
        (number(), Decimal("7.5"), Decimal("7.5")),
        (number(), " +7.5 ", Decimal("7.5")),
        (number(), ".5", Decimal("0.5")),
        (number(), "1E+3", Decimal(1000)),
        (number(places=2), Decimal("1.2500"), Decimal("1.25")),
        (count(), "12", 12),
        (count(), Decimal("12.0"), 12),
        (day, "2028-02-29", datetime.date(2028, 2, 29)),
        (or_none(day), None, None),
        (list_of(text, 2), ["a", "b"], ("a", "b")),
        (tuple_of(text, yes_no), ["a", True], ("a", True)),
        (mapping_of(yes_no), {"a": True}, {"a": True}),
        (record({"a": text, "b": text}, {"b": "-"}), {"a": "x"}, {"a": "x", "b": "-"}),
    ],
)
def test_what_a_reader_takes(reader, raw, value):
    assert reader(raw, "a") == value


@pytest.mark.parametrize(
    ("reader", "raw", "where", "words"),
    [
        (text, 3, "a", "must be text, found the number 3"),
        (text, "nul \x00", "a", "isn't text"),
        (text, "half \ud800", "a", "isn't text"),
        (yes_no, 1, "a", "true or false"),
        (yes_no, "true", "a", "true or false"),
        (one_of("in", "mm"), "ft", "a", "one of “in”, “mm”, found “ft”"),
        (one_of("in", "mm"), ["in"], "a", "one of"),
        (whole(), True, "a", "whole number, found true"),
        (whole(), Decimal("3.0"), "a", "whole number"),
        (whole(), "3", "a", "whole number, found “3”"),
        (whole(0, 5), -1, "a", "at least 0."),
        (whole(0, 5000), 5001, "a", "at most 5,000."),
        (whole(), 10**40, "a", "at most"),
        (decimal(), 3, "a", "written as text"),
        (decimal(), Decimal("3.5"), "a", "written as text"),
        (decimal(), "1e3", "a", "written as text"),
        (decimal(), "NaN", "a", "written as text"),
        (decimal(), "Infinity", "a", "written as text"),
        (decimal(), " 1", "a", "written as text"),
        (decimal(), "1.", "a", "written as text"),
        (decimal(), "1,5", "a", "written as text"),
        (decimal(), "1_000", "a", "written as text"),
        (decimal(), "١٢", "a", "written as text"),
        (decimal(), "1\n", "a", "written as text"),
        (decimal(), "9" * 31, "a", "written as text"),
        (decimal(0), "-0.01", "a", "at least 0."),
        (decimal(0, 1), "1.01", "a", "at most 1."),
        (decimal(places=2), "0.251", "a", "At most 2 decimals"),
        (number(), True, "a", "must be a number, found true"),
        (number(), 0.1, "a", "must be a number"),  # read by something that is not exact
        (number(), "NaN", "a", "must be a number"),
        (number(), "-Infinity", "a", "must be a number"),
        (number(), "1e999", "a", "must be a number"),
        (number(), "1e99999999999999999999", "a", "must be a number"),
        (number(), "9" * 5000, "a", "must be a number"),
        (number(), "1_000", "a", "must be a number"),
        (number(), "", "a", "must be a number"),
        (number(), ".", "a", "must be a number"),
        (number(0, 1), "1e-61", "a", "must be a number"),
        (number(places=12), "1e-13", "a", "At most 12 decimals"),
        (count(), Decimal("1.5"), "a", "whole number"),
        (count(), False, "a", "must be a number"),
        (count(1), 0, "a", "at least 1."),
        (day, "2026-02-29", "a", "must be a day"),
        (day, "20260331", "a", "must be a day"),
        (day, "2026-03-31T00:00", "a", "must be a day"),
        (day, "٢٠٢٦-03-31", "a", "must be a day"),
        (day, 20260331, "a", "must be a day"),
        (list_of(text), {}, "a", "must be a list, found an object"),
        (list_of(text), ["x", 3], "a[1]", "must be text"),
        (list_of(text, 2), ["x"] * 3, "a", "At most 2"),
        (tuple_of(text, text), ["x"], "a", "2 parts"),
        (tuple_of(text, text), "xy", "a", "must be a list"),
        (tuple_of(text, yes_no), ["x", 0], "a[1]", "true or false"),
        (mapping_of(text), [], "a", "object in braces, found a list"),
        (mapping_of(text), {"b": 3}, "a.b", "must be text"),
        (mapping_of(text), {"\ud800": "x"}, "a", "isn't text"),
        (record({"b": text}), None, "a", "object in braces, found null"),
        (record({"b": text}), {}, "a.b", "is missing"),
        (record({"b": text}), {"b": "x", "c": 1}, "a.c", "“c” is not known here"),
    ],
)
def test_what_a_reader_refuses(reader, raw, where, words):
    refused = refusal_of(reader, raw, "a")
    assert refused.where == where
    assert words in refused.message


def test_fields_know_what_was_asked_for():
    fields = Fields({"name": "card", "sides": [{"mm": 3}], "note": None, "extra": 1})
    assert fields.take("name", text) == "card"
    assert [side.take("mm", whole()) for side in fields.rows("sides")] == [3]
    assert (fields.rows("holes"), fields.optional("note", text)) == ([], None)
    assert fields.take("count", whole(), 7) == 7
    assert refusal_of(fields.nothing_else).where == "extra"
    assert fields.has("extra")
    fields.nothing_else()
    side = fields.rows("sides")[0]
    assert refusal_of(side.take, "name", text).where == "sides[0].name"
    assert side.refuse("It is too small.").where == "sides[0]"
    assert Fields({}).refuse("There is nothing.").where == "file"


class Colour(StrEnum):
    RED = "red"
    BLUE = "blue"


@dataclass(frozen=True, slots=True)
class Side:
    mm: Decimal
    colour: Colour = Colour.RED


@dataclass(frozen=True, slots=True)
class Box:
    name: str
    count: int
    is_open: bool
    seconds: float
    sides: tuple[Side, ...]
    place: tuple[str, int]
    lid: Side | None


BOX = Box("tall", 3, False, 0.25, (Side(Decimal("12.50")),), ("shelf", 2), None)
PLAIN_BOX = {
    "name": "tall",
    "count": 3,
    "is_open": False,
    "seconds": 0.25,
    "sides": [{"mm": "12.5", "colour": "red"}],
    "place": ["shelf", 2],
    "lid": None,
}


def test_a_frozen_value_comes_back_as_it_was_written():
    assert written(BOX) == PLAIN_BOX
    for raw in (PLAIN_BOX, parse(json.dumps(PLAIN_BOX)), json.loads(json.dumps(PLAIN_BOX))):
        read = value_of(Box)(raw, "box")
        assert read == BOX
        assert type(read.sides[0].colour) is Colour
        assert type(read.seconds) is float


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"name": 3}, "box.name"),
        ({"count": 10**13}, "box.count"),
        ({"count": 3.0}, "box.count"),
        ({"is_open": 0}, "box.is_open"),
        ({"seconds": float("nan")}, "box.seconds"),
        ({"seconds": float("inf")}, "box.seconds"),
        ({"seconds": True}, "box.seconds"),
        ({"sides": {}}, "box.sides"),
        ({"sides": [{"mm": 12.5}]}, "box.sides[0].mm"),
        ({"sides": [{"mm": "1"}, {"colour": "red"}]}, "box.sides[1].mm"),
        ({"sides": [{"mm": "1", "colour": "green"}]}, "box.sides[0].colour"),
        ({"place": ["shelf"]}, "box.place"),
        ({"lid": {}}, "box.lid.mm"),
        ({"glitter": 1}, "box.glitter"),
    ],
)
def test_what_is_no_such_value_is_refused_with_its_place(changes, where):
    assert refusal_of(value_of(Box), PLAIN_BOX | changes, "box").where == where


def test_only_fields_with_a_default_may_be_left_out():
    bare = {key: value for key, value in PLAIN_BOX.items() if key != "lid"}
    assert refusal_of(value_of(Box), bare, "box").where == "box.lid"
    assert value_of(Side)({"mm": "1"}, "side") == Side(Decimal(1))


anything_at_all = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.decimals() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(value=anything_at_all)
def test_readers_refuse_or_take_but_never_break(value):
    for reader in (
        *(text, yes_no, day, one_of("a"), whole(), decimal(0), number(0), count()),
        *(list_of(text), mapping_of(number()), tuple_of(text), value_of(Box)),
    ):
        assert refused_at(reader, value, "a")[:1] in ("", "a")


@given(
    content=st.binary()
    | st.text()
    | anything_at_all.map(lambda value: json.dumps(value, default=str))
)
def test_any_bytes_are_read_or_refused(content):
    assert refused_at(parse, content) or json.dumps(parse(content), default=str)
