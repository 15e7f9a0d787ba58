"""The form that says where the copies of a piece sit."""

from decimal import Decimal
from typing import Any

from django import forms

from catalogue.calc.folded.own_places import HALF_A_TURN, MOST_LAYERS, OwnPlace
from catalogue.calc.folded.places import How, Place
from catalogue.recipes.placing import Placing
from maker.web.fields import NumberField, PercentField, WholeNumberField, WorkshopForm
from maker.workshop.models import Workshop

USUAL = "As the program places it"


class PlaceForm(WorkshopForm):
    """Where one copy of a piece sits; what is not said stays as it is drawn now."""

    place = forms.ChoiceField(required=False)
    x = PercentField(label="From the left", required=False)
    y = PercentField(label="From the bottom", required=False)
    turn = NumberField(
        label="Turn",
        required=False,
        unit="°",
        at_least=-HALF_A_TURN,
        at_most=HALF_A_TURN,
        decimals=4,
        help_text="Against the clock; below 0 with it.",
    )
    layers = WholeNumberField(
        label="Layers in front",
        required=False,
        at_most=MOST_LAYERS,
        help_text="A higher number lies over a lower one.",
    )

    def __init__(self, *args: Any, placing: Placing, at: int, copy: int, **options: Any) -> None:
        self.placing, self.at, self.copy = placing, at, copy
        key, now = placing.place_now(at, copy)
        self.now = now
        options.setdefault("initial", {"place": key, **_shown(now)})
        super().__init__(*args, prefix=f"copy{copy}", **options)
        place = self.fields["place"]
        assert isinstance(place, forms.ChoiceField)  # noqa: S101  # told to the type checker
        place.label = f"Place of copy {copy + 1}" if placing.copies(at) > 1 else "Place"
        place.choices = [("", USUAL), *placing.faces(at)]

    def own_place(self) -> OwnPlace | None:
        """Return the place said, or None for the usual one. Call it when the form is valid."""
        said = self.cleaned_data
        if not said["place"]:
            return None
        how, on, face = said["place"].split(":", 2)
        usual = _shown(self.now)
        return OwnPlace(
            how=How(how),
            on=self.placing.item.pieces[int(on)].name,
            face=face or "front",
            **{key: usual[key] if said[key] is None else said[key] for key in usual},
        )


def _shown(place: Place) -> dict[str, Any]:
    """Return the numbers of a place as they are typed: hundredths of a face, tenths of a degree."""
    return {
        "x": _within(round(Decimal(place.x), 4), 0, 1),
        "y": _within(round(Decimal(place.y), 4), 0, 1),
        "turn": round(Decimal(place.turn), 1),
        "layers": min(place.layers, MOST_LAYERS),
    }


def _within(value: Decimal, least: int, most: int) -> Decimal:
    return min(max(value, Decimal(least)), Decimal(most))


def forms_for(placing: Placing, at: int, workshop: Workshop, data: Any = None) -> list[PlaceForm]:
    """Return a form for each copy of a piece."""
    return [
        PlaceForm(data, placing=placing, at=at, copy=copy, workshop=workshop)
        for copy in range(placing.copies(at))
    ]
