"""Recipes to test with, as documents: one that uses every entry, and any number of random ones."""

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from maker.calc.sums import plain_text

FULL: dict[str, Any] = {
    "name": "spring",
    "finished_size": "2 1/2 x 1 1/2 x 4 in",
    "reject_share": "0.04",
    "rejects_from": 10,
    "learning": "cumulative",
    "learning_rate": "0.95",
    "learning_floor": "0.7",
    "learning_reference": 1,
    "learning_made": 24,
    "roles": [
        {"name": "body", "material": "Fern card"},
        {"name": "mirror", "material": "Mirror card"},
        {"name": "glue", "material": "Wet glue"},
        {"name": "brads", "material": "Brass brads"},
        {"name": "carton", "material": "Carton"},
        {"name": "ribbon", "material": "Satin ribbon"},
    ],
    "options": [
        {
            "key": "closure",
            "name": "Closure",
            "choices": [
                {"key": "dot", "name": "dot", "is_default": True, "caution": ""},
                {
                    "key": "magnet",
                    "name": "magnet",
                    "is_default": False,
                    "caution": "Swallowed magnets injure.",
                },
            ],
        },
        {
            "key": "names",
            "name": "Names",
            "choices": [
                {"key": "none", "name": "none", "is_default": True, "caution": ""},
                {"key": "each", "name": "a name each", "is_default": False, "caution": ""},
            ],
        },
    ],
    "colourways": [
        {"name": "moss", "materials": {}},
        {"name": "ember", "materials": {"body": "Ember card"}},
    ],
    "pieces": [
        {
            "name": "bag",
            "role": "body",
            "shape": "rectangle",
            "width_mm": "215.9",
            "height_mm": "139.7",
            "form": "",
            "form_inputs": {},
            "die_margin_mm": "0",
            "count": 1,
            "layers": 1,
            "turning": "fixed",
            "when": {},
        },
        {
            "name": "badge",
            "role": "mirror",
            "shape": "die",
            "width_mm": "38.1",
            "height_mm": "38.1",
            "form": "",
            "form_inputs": {},
            "die_margin_mm": "3",
            "count": 2,
            "layers": 1,
            "turning": "free",
            "when": {"from_quantity": 2, "to_quantity": 500, "not_with": "closure=magnet"},
        },
        {
            "name": "handle",
            "role": "body",
            "shape": "rectangle",
            "width_mm": "279.4",
            "height_mm": "19.05",
            "form": "",
            "form_inputs": {},
            "die_margin_mm": "0",
            "count": 1,
            "layers": 2,
            "turning": "material",
            "when": {},
        },
        {
            # 7 1/2 x 4 x 8 in from two blanks of 12 x 12 in: the bag of tests/data/flat_patterns
            "name": "large body",
            "role": "body",
            "shape": "form",
            "width_mm": "304.8",
            "height_mm": "304.8",
            "form": "two_piece_bag",
            "form_inputs": {
                "D": "101.6",
                "H": "203.2",
                "W": "190.5",
                "g": "12.7",
                "hem": "0",
                "t": "0",
            },
            "die_margin_mm": "0",
            "count": 1,
            "layers": 1,
            "turning": "material",
            "when": {"to_quantity": 500, "not_with": "closure=magnet"},
        },
    ],
    "fixings": [
        {
            "name": "brads",
            "role": "brads",
            "basis": "made",
            "measure": "amount",
            "amount": "2",
            "typed_in": "",
            "rate": None,
            "waste_share": None,
            "when": {"only_with": "closure=dot"},
        },
        {
            "name": "side seam",
            "role": "glue",
            "basis": "made",
            "measure": "bead",
            "amount": "500",
            "typed_in": "",
            "rate": "3.1",
            "waste_share": "0.15",
            "when": {},
        },
        {
            "name": "lining",
            "role": "glue",
            "basis": "good",
            "measure": "area",
            "amount": "20000",
            "typed_in": "",
            "rate": "100",
            "waste_share": None,
            "when": {},
        },
        {
            "name": "folded seams",
            "role": "glue",
            "basis": "made",
            "measure": "form_bead",
            "amount": "2",
            "typed_in": "",
            "rate": "3.1",
            "waste_share": None,
            "when": {},
        },
        {
            "name": "folded spread",
            "role": "glue",
            "basis": "made",
            "measure": "form_area",
            "amount": "1",
            "typed_in": "",
            "rate": "90",
            "waste_share": "0",
            "when": {},
        },
        {
            "name": "tag ribbon",
            "role": "ribbon",
            "basis": "made",
            "measure": "cut",
            "amount": "304.8",
            "typed_in": "",
            "rate": "2",
            "waste_share": None,
            "when": {},
        },
        {
            "name": "test bead",
            "role": "glue",
            "basis": "job",
            "measure": "amount",
            "amount": "1.5",
            "typed_in": "",
            "rate": None,
            "waste_share": "0",
            "when": {},
        },
    ],
    "steps": [
        {
            "name": name,
            "basis": basis,
            "role": role,
            "minutes": minutes,
            "minutes_low": low,
            "minutes_high": high,
            "per": per,
            "times": times,
            "window_minutes": window,
            "learns": learns,
            "caution": caution,
            "when": when,
        }
        for name, basis, role, minutes, low, high, per, times, window, learns, caution, when in (
            ("set up", "job", None, "15", None, None, 1, 1, None, False, "", {}),
            ("stack for the press", "batch", None, "2", None, None, 20, 1, None, False, "", {}),
            ("cut body", "sheet", "body", "3", "2.5", "4", 1, 1, None, False, "blade", {}),
            ("press badges", "pass", "mirror", "0.8", None, None, 4, 1, None, False, "blade", {}),
            ("fold and glue", "made", None, "5", "4", "7.25", 1, 1, None, True, "hot_glue", {}),
            ("check", "good", None, "0.5", None, None, 1, 1, None, False, "", {}),
            (
                "pack carton",
                "carton",
                None,
                "4",
                None,
                None,
                1,
                1,
                None,
                False,
                "",
                {"from_quantity": 12},
            ),
            (
                "write the name",
                "name",
                None,
                "1.5",
                None,
                None,
                1,
                1,
                None,
                False,
                "",
                {"only_with": "names=each"},
            ),
            (
                "lay out names",
                "job",
                None,
                "10",
                None,
                None,
                1,
                1,
                None,
                False,
                "",
                {"only_with": "names=each"},
            ),
            ("dry", "rack", None, "45", None, None, 24, 2, 480, False, "", {}),
            ("dry over night", "night", None, "0", None, None, 60, 1, None, False, "", {}),
        )
    ],
    "wears": [
        {"name": "blade", "basis": "sheet", "role": None, "price": "0.6", "life": "60", "when": {}},
        {
            "name": "plates",
            "basis": "pass",
            "role": "mirror",
            "price": "0.02",
            "life": "1",
            "when": {},
        },
    ],
    "packings": [
        {
            "name": "sleeve",
            "kind": "sleeve",
            "holds": 1,
            "role": None,
            "cost_each": "0.06",
            "when": {"to_quantity": 1},
        },
        {
            "name": "mailer",
            "kind": "mailer",
            "holds": 11,
            "role": None,
            "cost_each": "0.4",
            "when": {"from_quantity": 2, "to_quantity": 11},
        },
        {
            "name": "carton",
            "kind": "carton",
            "holds": 40,
            "role": "carton",
            "cost_each": None,
            "when": {"from_quantity": 12},
        },
    ],
}

# name -> the fields of the material
MATERIALS: dict[str, dict[str, Any]] = {
    "Fern card": {},
    "Ember card": {},
    "Mirror card": {},
    "Wet glue": {"kind": "volume"},
    "Brass brads": {"kind": "count"},
    "Carton": {"kind": "count"},
    "Satin ribbon": {"kind": "length"},
}


def _decimals(most: int, places: int, *, least: str = "0") -> st.SearchStrategy[str]:
    return st.decimals(
        min_value=Decimal(least), max_value=most, places=places, allow_nan=False
    ).map(plain_text)


_names = (
    st.text("abcdefgh ÄÖéß漢&<>'\"", min_size=1, max_size=30)
    # entries keep single spaces only
    .map(lambda text: " ".join(text.split()))
    .filter(bool)
)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    """Any recipe that holds together, of the materials above."""
    sheets, others = ["Fern card", "Ember card", "Mirror card"], ["Wet glue"]
    names = draw(st.lists(_names, min_size=2, max_size=5, unique_by=str.casefold))
    cut, rest = names[:-1], names[-1:]
    roles = [{"name": name, "material": draw(st.sampled_from(sheets))} for name in cut]
    roles += [{"name": name, "material": draw(st.sampled_from(others))} for name in rest]
    keys = draw(st.lists(st.sampled_from(["closure", "handle", "lining"]), unique=True))
    options = [
        {
            "key": key,
            "name": key.title(),
            "choices": [
                {
                    "key": f"c{at}",
                    "name": f"choice {at}",
                    "is_default": at == default,
                    "caution": draw(st.sampled_from(["", "Mind the cord."])),
                }
                for at in range(draw(st.integers(1, 3)))
            ],
        }
        for key in keys
        for default in [draw(st.integers(-1, 0))]
    ]
    choices = [f"{one['key']}={choice['key']}" for one in options for choice in one["choices"]]

    def when() -> dict[str, Any]:
        made: dict[str, Any] = {}
        if draw(st.booleans()):
            made["from_quantity"] = draw(st.integers(1, 500))
        if draw(st.booleans()):
            made["to_quantity"] = draw(st.integers(made.get("from_quantity", 1), 1_000_000))
        if choices and draw(st.booleans()):
            made[draw(st.sampled_from(["only_with", "not_with"]))] = draw(st.sampled_from(choices))
        return made

    def rows(**columns: Any) -> list[dict[str, Any]]:
        return [
            {
                "name": draw(_names),
                **{key: draw(one) for key, one in columns.items()},
                "when": when(),
            }
            for _ in range(draw(st.integers(0, 3)))
        ]

    lengths = _decimals(100_000, 6, least="0.000001")
    document: dict[str, Any] = {
        "name": draw(st.sampled_from(["", "spring"])),
        "finished_size": "",
        "reject_share": draw(_decimals(0, 6) | st.just("0.04")),
        "rejects_from": draw(st.integers(1, 1000)),
        "learning": draw(st.sampled_from(["none", "cumulative", "per_unit"])),
        "learning_rate": draw(_decimals(1, 4, least="0.5")),
        "learning_floor": draw(_decimals(1, 4)),
        "learning_reference": draw(st.integers(1, 1000)),
        "learning_made": draw(st.integers(0, 1000)),
        "roles": roles,
        "options": options,
        "colourways": [
            {"name": f"way {at}", "materials": {cut[0]: draw(st.sampled_from(sheets))}}
            for at in range(draw(st.integers(0, 2)))
        ],
        "pieces": rows(
            role=st.sampled_from(cut),
            shape=st.sampled_from(["rectangle", "die"]),
            width_mm=lengths,
            height_mm=lengths,
            die_margin_mm=_decimals(1000, 6),
            count=st.integers(1, 10_000),
            layers=st.integers(1, 10),
            turning=st.sampled_from(["material", "free", "fixed"]),
        ),
        "fixings": rows(
            role=st.sampled_from(rest),
            basis=st.sampled_from(["made", "good", "job", "carton", "name"]),
            measure=st.sampled_from(["amount", "bead", "area", "form_bead", "form_area"]),
            amount=_decimals(100_000, 6),
            typed_in=st.just(""),
            rate=_decimals(1000, 6),
            waste_share=st.none() | _decimals(1, 6),
        ),
        "steps": rows(
            basis=st.sampled_from(["made", "job", "batch", "rack", "night"]),
            role=st.none(),
            minutes=_decimals(100, 4),
            minutes_low=st.none() | st.just("0"),
            minutes_high=st.none() | st.just("100000"),
            per=st.integers(1, 1_000_000),
            times=st.integers(1, 10),
            window_minutes=st.none() | st.integers(1, 1440),
            learns=st.booleans(),
            caution=st.sampled_from(["", "blade", "food"]),
        ),
        "wears": rows(
            basis=st.sampled_from(["sheet", "pass", "made"]),
            role=st.none() | st.sampled_from(cut),
            price=_decimals(999_999_999, 6),
            life=_decimals(999_999_999, 6, least="0.000001"),
        ),
        "packings": rows(
            kind=st.sampled_from(["sleeve", "mailer", "carton"]),
            holds=st.integers(1, 1000),
            role=st.none() | st.sampled_from(names),
            cost_each=_decimals(1000, 6),
        ),
    }
    for row in document["pieces"]:
        row |= {"form": "", "form_inputs": {}}
        if draw(st.booleans()):
            row |= draw(_tags())
    for row in document["fixings"]:
        if row["measure"].startswith("form"):
            row["basis"] = "made"
    return document


@st.composite
def _tags(draw: st.DrawFn) -> dict[str, Any]:
    """A piece folded from the plainest form: its blank is its size, twice as high when folded."""
    width, height = (draw(_decimals(1000, 6, least="1")) for _ in "wh")
    is_folded = draw(st.booleans())
    return {
        "shape": "form",
        "form": "tag",
        "form_inputs": {"folded": str(int(is_folded)), "h": height, "hole": "0", "w": width},
        "width_mm": width,
        "height_mm": plain_text(Decimal(height) * (2 if is_folded else 1)),
    }
