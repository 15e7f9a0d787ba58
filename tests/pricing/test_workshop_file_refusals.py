"""A workshop file with anything wrong in it is refused whole, with the reason and the path."""

import copy
import json
from io import StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from maker.calc.refusal import Refusal
from maker.calc.strict_json import WrongJson, parse
from maker.workshop.models import Workshop
from pricing.workshop_file.schema import VERSION
from pricing.workshop_file.services import import_workshop
from tests.thorough import tries

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"
SOURCE = parse(WORKED_CASE.read_bytes())
NOTHING = object()

pytestmark = pytest.mark.django_db


@pytest.fixture
def document():
    return copy.deepcopy(SOURCE)


def rows_everywhere():
    return {model._meta.label: model._default_manager.count() for model in apps.get_models()}


def change(document, path, value):
    """Put a value at a path such as ("materials", 0, "name"); NOTHING takes the place away."""
    *parents, last = path
    place = document
    for step in parents:
        place = place[step]
    if value is NOTHING:
        del place[last]
    elif isinstance(place, list) and last == len(place):
        place.append(value)
    else:
        place[last] = value


WRONG = {
    "another format": (("format",), "a shopping list", "format"),
    "no format": (("format",), NOTHING, "format"),
    "a later version": (("version",), VERSION + 1, "version"),
    "a version as text": (("version",), "1", "version"),
    "a version that is true": (("version",), True, "version"),
    "an unknown list": (("jobs",), [], "jobs"),
    "an unknown key": (("materials", 2, "colour"), "red", "materials[2].colour"),
    "an unknown key in the profile": (("workshop", "slug"), "x", "workshop.slug"),
    "no profile": (("workshop",), NOTHING, "workshop"),
    "a profile that is a list": (("workshop",), [], "workshop"),
    "materials that are an object": (("materials",), {}, "materials"),
    "a material that is text": (("materials", 1), "card", "materials[1]"),
    "a name missing": (("materials", 0, "name"), NOTHING, "materials[0].name"),
    "a name of spaces": (("materials", 0, "name"), "  ", "materials[0].name"),
    "a name that is a number": (("materials", 0, "name"), 7, "materials[0].name"),
    "a name that is null": (("suppliers", 0, "name"), None, "suppliers[0].name"),
    "a name too long": (("materials", 0, "name"), "x" * 121, "materials[0].name"),
    "half a character": (("materials", 0, "notes"), "\ud83d", "materials[0].notes"),
    "a zero byte": (("materials", 0, "notes"), "a\x00b", "materials[0].notes"),
    "a number, not text": (("workshop", "wage_per_hour"), 15, "workshop.wage_per_hour"),
    "a fraction, not text": (("workshop", "wage_per_hour"), 1.5, "workshop.wage_per_hour"),
    "a cash step no coin pays": (("workshop", "cash_step"), "0.333", "workshop.cash_step"),
    "a price step no coin pays": (
        ("channels", 0, "tiers", 0, "price_step"), "0.333", "channels[0].tiers[0].price_step",
    ),
    "a deposit step no coin pays": (
        ("channels", 0, "tiers", 0, "deposit_step"), "0.001", "channels[0].tiers[0].deposit_step",
    ),
    "a number. Enter one": (("workshop", "wage_per_hour"), "NaN", "workshop.wage_per_hour"),
    "an exponent": (("workshop", "wage_per_hour"), "1e3", "workshop.wage_per_hour"),
    "digits of another script": (
        ("workshop", "wage_per_hour"), "٣", "workshop.wage_per_hour",
    ),
    "a weight below zero": (("materials", 0, "grammage"), "-1", "materials[0].grammage"),
    "a thickness below zero": (
        ("materials", 0, "thickness_mm"), "-0.1", "materials[0].thickness_mm",
    ),
    "a negative wage": (("workshop", "wage_per_hour"), "-1", "workshop.wage_per_hour"),
    "a share above 1": (("workshop", "tax_rate"), "1.2", "workshop.tax_rate"),
    "too many decimals": (("workshop", "tax_rate"), "0.1234567", "workshop.tax_rate"),
    "too many digits": (
        ("workshop", "wage_per_hour"), "12345678901", "workshop.wage_per_hour",
    ),
    "yes for true": (("workshop", "tax_registered"), "yes", "workshop.tax_registered"),
    "1 for true": (("workshop", "tax_registered"), 1, "workshop.tax_registered"),
    "an unknown currency": (("workshop", "currency"), "XQZ", "workshop.currency"),
    "an unknown way of writing": (("workshop", "locale"), "xx_YY", "workshop.locale"),
    "weekdays out of order": (
        ("workshop", "carrier_weekdays"), "21", "workshop.carrier_weekdays",
    ),
    "an unknown unit": (("workshop", "unit"), "ft", "workshop.unit"),
    "days below zero": (
        ("workshop", "purchase_lead_days"), -1, "workshop.purchase_lead_days",
    ),
    "days beyond counting": (
        ("workshop", "purchase_lead_days"), 40_000, "workshop.purchase_lead_days",
    ),
    "an unknown kind": (("materials", 0, "kind"), "bar", "materials[0].kind"),
    "a sheet without a size": (("materials", 0, "width_mm"), None, "materials[0].width_mm"),
    "a sheet of no size": (("materials", 0, "width_mm"), "0", "materials[0].width_mm"),
    "a material twice": (("materials", 1, "name"), SOURCE["materials"][0]["name"],
                         "materials[1].name"),
    "an unknown supplier": (("materials", 0, "supplier"), "Nobody", "materials[0].supplier"),
    "a supplier twice": (("suppliers", 1), {"name": SOURCE["suppliers"][0]["name"]},
                         "suppliers[1].name"),
    "a pack of nothing": (
        ("materials", 0, "packs", 0, "quantity"), "0", "materials[0].packs[0].quantity",
    ),
    "a pack twice": (
        ("materials", 0, "packs", 1), {"name": "pad of 24 sheets", "quantity": "2"},
        "materials[0].packs[1].name",
    ),
    "a web address that runs": (
        ("suppliers", 0, "website"), "javascript:alert(1)", "suppliers[0].website",
    ),
    "a day that is none": (
        ("receipts", 0, "bought_on"), "2026-02-30", "receipts[0].bought_on",
    ),
    "a day written another way": (
        ("receipts", 0, "bought_on"), "20260103", "receipts[0].bought_on",
    ),
    "an instant without a zone": (
        ("receipts", 0, "recorded_at"), "2026-01-03T09:00:00", "receipts[0].recorded_at",
    ),
    "an hour that is none": (
        ("receipts", 0, "recorded_at"), "2026-01-03T25:00:00Z", "receipts[0].recorded_at",
    ),
    "in stock, but never recorded": (
        ("receipts", 0, "recorded_at"), None, "receipts[0].recorded_at",
    ),
    "postage that is not shared": (("receipts", 0, "postage"), "8.00", "receipts[0].postage"),
    "discount that is not shared": (
        ("receipts", 0, "discount"), "1", "receipts[0].discount",
    ),
    "a share that was changed": (
        ("receipts", 0, "lines", 0, "postage_share"), "2.31", "receipts[0].lines[0].landed",
    ),
    "a landed cost that was changed": (
        ("receipts", 0, "lines", 0, "landed"), "25.11", "receipts[0].lines[0].landed",
    ),
    "a unit cost that was changed": (
        ("receipts", 0, "lines", 0, "unit_cost"), "0.522918", "receipts[0].lines[0].unit_cost",
    ),
    "a receipt without lines": (("receipts", 0, "lines"), [], "receipts[0].lines"),
    "a line of nothing": (
        ("receipts", 0, "lines", 0, "quantity"), "0", "receipts[0].lines[0].quantity",
    ),
    "another material's pack": (
        ("receipts", 0, "lines", 0, "pack"), "reel of 50 m", "receipts[0].lines[0].pack",
    ),
    "a receipt line twice": (
        ("receipts", 0, "lines", 1, "key"), "line 1", "receipts[0].lines[1].key",
    ),
    "a line without a key": (
        ("receipts", 0, "lines", 0, "key"), None, "receipts[0].lines[0].key",
    ),
    "a line that never came in": (("stock_entries", 0), NOTHING, "stock_entries"),
    "a line that came in twice": (
        ("stock_entries", 22), SOURCE["stock_entries"][0], "stock_entries[22].receipt_line",
    ),
    "more in stock than bought": (
        ("stock_entries", 0, "change"), "49", "stock_entries[0].receipt_line",
    ),
    "in stock at another cost": (
        ("stock_entries", 0, "cost_in"), "25.11", "stock_entries[0].cost_in",
    ),
    "a movement of nothing": (("stock_entries", 11, "change"), "0", "stock_entries[11].change"),
    "bought without a receipt": (
        ("stock_entries", 0, "receipt_line"), NOTHING, "stock_entries[0].kind",
    ),
    "a lot beside that of its line": (("stock_entries", 0, "lot"), "K", "stock_entries[0].lot"),
    "used, and yet bought": (("stock_entries", 0, "kind"), "used", "stock_entries[0].kind"),
    "used, with a cost": (("stock_entries", 15, "cost_in"), "0", "stock_entries[15].cost_in"),
    "taking back nothing": (("stock_entries", 11, "kind"), "reversed", "stock_entries[11].kind"),
    "taking back a later entry": (
        ("stock_entries", 11, "takes_back"), "entry 1", "stock_entries[11].takes_back",
    ),
    "draft, and yet in stock": (("receipts", 0, "state"), "draft", "receipts[0].recorded_at"),
    "taken back, and yet in stock": (("receipts", 0, "state"), "reversed", "stock_entries"),
    "a design without a name": (("designs", 0, "name"), "", "designs[0].name"),
    "a design twice": (
        ("designs", 1), {"name": "Brambling favour bag"}, "designs[1].name",
    ),
    "a version twice": (
        ("designs", 0, "versions", 1), {"number": 1, "recipe": {}},
        "designs[0].versions[1].number",
    ),
    "a version without a recipe": (
        ("designs", 0, "versions", 0, "recipe"), NOTHING, "designs[0].versions[0].recipe",
    ),
    "a recipe that is a list": (
        ("designs", 0, "versions", 0, "recipe"), [], "designs[0].versions[0].recipe",
    ),
    "a length that is a number": (
        ("designs", 0, "versions", 0, "recipe", "pieces", 0, "width_mm"), 215.9,
        "designs[0].versions[0].recipe.pieces[0].width_mm",
    ),
    "a negative length": (
        ("designs", 0, "versions", 0, "recipe", "pieces", 0, "width_mm"), "-2",
        "designs[0].versions[0].recipe.pieces[0].width_mm",
    ),
    "a role nothing plays": (
        ("designs", 0, "versions", 0, "recipe", "pieces", 0, "role"), "Z",
        "designs[0].versions[0].recipe.pieces[0].role",
    ),
    "a role with a material that is not there": (
        ("designs", 0, "versions", 0, "recipe", "roles", 0, "material"), "Silk",
        "designs[0].versions[0].recipe.roles[0].material",
    ),
    "an unknown key in a recipe": (
        ("designs", 0, "versions", 0, "recipe", "steps", 0, "speed"), "9",
        "designs[0].versions[0].recipe.steps[0].speed",
    ),
    "two tiers from one quantity": (
        ("channels", 0, "tiers", 1, "bought_at_once"), 1, "channels[0].tiers[1].bought_at_once",
    ),
    "a tier from 0": (
        ("channels", 0, "tiers", 0, "bought_at_once"), 0, "channels[0].tiers[0].bought_at_once",
    ),
    "a price of no design": (("prices", 0), {"design": "Crane"}, "prices[0].design"),
    "a price of no version": (
        ("prices", 0), {"design": "Brambling favour bag", "version": 7}, "prices[0].version",
    ),
    "a price of no colourway": (
        ("prices", 0),
        {"design": "Brambling favour bag", "version": 1, "colourway": "Dusk"},
        "prices[0].colourway",
    ),
    "a label sheet of no labels": (("label_sheets", 0, "rows"), 0, "label_sheets[0].rows"),
}  # fmt: skip


@pytest.mark.parametrize(("path", "value", "where"), WRONG.values(), ids=WRONG)
def test_a_wrong_file_is_refused_with_the_place(document, path, value, where):
    before = rows_everywhere()
    change(document, path, value)
    with pytest.raises(WrongJson) as refused:
        import_workshop(document)
    assert refused.value.where == where
    assert len(refused.value.message) > 15
    assert rows_everywhere() == before


def test_two_current_prices_for_one_quantity_are_refused(document):
    price = {
        "design": "Brambling favour bag", "version": 1, "channel": "Direct orders",
        "price": "10.55", "cost_each": "6.4", "floor_each": "7.85", "target_each": "10.54",
    }  # fmt: skip
    document["prices"] = [
        {**price, "replaced_at": "2026-02-01T08:00:00Z"},
        price,
        {**price, "bought_at_once": 12},
        dict(price),
    ]
    with pytest.raises(WrongJson) as refused:
        import_workshop(document)
    assert refused.value.where == "prices[3].replaced_at"


BROKEN = {
    "nothing": (b"", "line 1, column 1"),
    "half a file": (WORKED_CASE.read_bytes()[:4000], None),
    "not JSON": (b"format: pleat-and-penny", "line 1, column 1"),
    "not UTF-8": ('{"format": "é"}'.encode("latin-1"), "byte 12"),
    "a list": (b"[]", "file"),
    "a text": (b'"pleat-and-penny workshop"', "file"),
    "null": (b"null", "file"),
    "a key twice": (b'{"format": "a", "format": "b"}', "format"),
    "a key twice, deep inside": (
        b'{"materials": [{"name": "a"}, {"packs": [{"price": "1", "price": "2"}]}]}',
        "materials[1].packs[0].price",
    ),
    "nested too deep": (b"[" * 100_000, "file"),
    "nested too deep and closed": (b'{"a":' * 900 + b"1" + b"}" * 900, None),
    "an endless number": (b'{"version": ' + b"9" * 5000 + b"}", "version"),
    "too large": (b" " * (64 * 1024 * 1024 + 1), "file"),
}


@pytest.mark.parametrize(("content", "where"), BROKEN.values(), ids=BROKEN)
def test_a_broken_file_is_one_json_object_and_exit_code_1(tmp_path, content, where):
    path = tmp_path / "workshop.json"
    path.write_bytes(content)
    before = rows_everywhere()
    error = refusal_of("import_workshop", str(path))
    assert error["message"]
    assert where is None or error["where"] == where
    assert rows_everywhere() == before


def refusal_of(*words, **options):
    output = StringIO()
    with pytest.raises(SystemExit) as exit_code:
        call_command(*words, stdout=output, **options)
    assert exit_code.value.code == 1
    answer = json.loads(output.getvalue())
    assert list(answer) == ["error"]
    assert list(answer["error"]) == ["message", "where"]
    return answer["error"]


def test_a_file_that_is_not_there_is_said(tmp_path):
    path = str(tmp_path / "none.json")
    assert refusal_of("import_workshop", path)["where"] == path
    assert refusal_of("import_workshop", str(tmp_path))["where"] == str(tmp_path)


def test_an_unknown_owner_is_said_and_nothing_comes_in():
    error = refusal_of("import_workshop", str(WORKED_CASE), "--owner", "nobody@example.test")
    assert error["where"] == "owner"
    assert not Workshop.objects.exists()


def test_a_second_real_workshop_of_the_name_is_refused(document):
    import_workshop(document)
    before = rows_everywhere()
    assert refusal_of("import_workshop", str(WORKED_CASE))["where"] == "workshop.name"
    error = refusal_of("import_workshop", str(WORKED_CASE), "--as", "Worked case")
    assert error["where"] == "name"
    assert rows_everywhere() == before


@pytest.mark.parametrize("name", ["", "   ", "x" * 121, "a\x00b"])
def test_a_new_name_must_be_one(document, name):
    with pytest.raises(WrongJson) as refused:
        import_workshop(document, name=name)
    assert refused.value.where == "name"


def test_export_refuses_what_it_cannot_write_or_find(tmp_path, document):
    assert refusal_of("export_workshop", str(tmp_path / "a.json"))["where"] == "workshop"
    import_workshop(document)
    import_workshop(document, name="Another")
    error = refusal_of("export_workshop", str(tmp_path / "a.json"))
    assert error["where"] == "workshop"
    assert "Another" in error["message"]
    assert "Worked case" in error["message"]
    error = refusal_of("export_workshop", str(tmp_path), "--workshop", "Another")
    assert error["where"] == str(tmp_path)
    missing = str(tmp_path / "no folder" / "a.json")
    assert refusal_of("export_workshop", missing, "--workshop", "Another")["where"] == missing
    assert list(tmp_path.iterdir()) == []


def places(value, path=()):
    """Every place of a document, as paths."""
    if path:
        yield path
    if isinstance(value, (dict, list)):
        for key, part in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(part, (*path, key))


junk = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(["0", "-1", "1e9", "9" * 30, "0.0000001", "2026-13-01", "\ud800", NOTHING]),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
)


@hypothesis_settings(
    max_examples=tries(80, thorough=1_000),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(path=st.sampled_from(list(places(SOURCE))), value=junk)
def test_whatever_stands_anywhere_is_taken_or_refused_and_nothing_is_half_stored(path, value):
    document = copy.deepcopy(SOURCE)
    change(document, path, value)
    before = rows_everywhere()
    refusal = None
    try:
        workshop = import_workshop(document, is_demo=True)
    except Refusal as refused:
        refusal = refused
    if refusal is None:
        assert workshop.designs.count() == len(document.get("designs", []))
    else:
        assert refusal.message
        assert refusal.where
        assert rows_everywhere() == before
