"""Which tags, how many, on which label sheet."""

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import formset_factory

from maker.calc.units import format_length
from maker.documents.print_style import paper_of
from maker.web.fields import (
    PLAIN,
    LengthField,
    MoneyField,
    OneLineField,
    WholeNumberField,
    WorkshopForm,
    WorkshopModelForm,
)
from maker.workshop.models import Workshop
from pricing.calc.papers.labels import (
    COMMON_SHEETS,
    LabelGeometry,
    LabelsDoNotFit,
    check_geometry,
    common_sheets,
)
from pricing.calc.papers.tag_layouts import USUAL_SHEETS, TagLayout
from pricing.channels.models import Channel
from pricing.price_tags.inputs import TagItems
from pricing.price_tags.models import LabelSheet
from pricing.price_tags.services import MOST_TAGS


def geometry_of(sheet: LabelSheet) -> LabelGeometry:
    """Return a stored sheet as values."""
    return LabelGeometry(
        page_width=sheet.page_width_mm,
        page_height=sheet.page_height_mm,
        columns=sheet.columns,
        rows=sheet.rows,
        label_width=sheet.label_width_mm,
        label_height=sheet.label_height_mm,
        left=sheet.left_mm,
        top=sheet.top_mm,
        pitch_x=sheet.pitch_x_mm,
        pitch_y=sheet.pitch_y_mm,
    )


class TagSheetForm(WorkshopForm):
    """The label sheet and what every tag of the run has."""

    QR_CHOICES = (
        ("", "None"),
        ("website", "Your website"),
        ("code", "The design's code"),
    )

    LAYOUT_CHOICES = (
        (TagLayout.STICKER.value, "Sticker"),
        (TagLayout.HANGING.value, "Hanging tag with a hole"),
        (TagLayout.FOLDED.value, "Folded tag"),
        (TagLayout.CARD.value, "Table card"),
    )

    layout = forms.ChoiceField(
        label="Layout",
        choices=LAYOUT_CHOICES,
        required=False,
        initial=TagLayout.STICKER.value,
        help_text="All but stickers are cut from card.",
    )
    sheet = forms.ChoiceField(label="Label sheet", required=False)
    start_at = WholeNumberField(
        label="Start at label",
        at_least=1,
        at_most=4000,
        initial=1,
        help_text="Count row by row if some labels are used up.",
    )
    qr = forms.ChoiceField(label="QR code", choices=QR_CHOICES, required=False)
    test_page = forms.BooleanField(label="Add a test page", required=False, initial=True)
    cut_lines = forms.BooleanField(label="Cut lines", required=False)
    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, workshop: Workshop, sheets: list[LabelSheet], **options: Any):
        super().__init__(*args, workshop=workshop, **options)
        self.geometries: dict[str, LabelGeometry] = {
            **{f"own-{sheet.pk}": geometry_of(sheet) for sheet in sheets},
            **{key: geometry for key, (_, geometry) in COMMON_SHEETS.items()},
        }
        common = common_sheets(paper_of(workshop.locale), workshop.unit, workshop.locale)
        own = [(f"own-{sheet.pk}", sheet.name) for sheet in sheets]
        self.paper = paper_of(workshop.locale)
        self.fields["sheet"].choices = [  # type: ignore[attr-defined]
            ("", "Usual for the layout"),
            *([("Your own", own), ("Common sizes", common)] if own else common),
        ]

    def clean_layout(self) -> str:
        """Return the layout; a sticker where none is said."""
        return self.cleaned_data["layout"] or TagLayout.STICKER.value

    def clean(self) -> dict[str, Any]:
        """Refuse a start beyond the sheet, and a code there is nothing to put in."""
        given = super().clean() or self.cleaned_data
        geometry = None if {"layout", "sheet"} & self.errors.keys() else self.geometry()
        start = given.get("start_at")
        if geometry and start and start > geometry.per_page:
            self.add_error("start_at", f"This sheet has labels 1 to {geometry.per_page}.")
        if given.get("qr") == "website" and not self.workshop.website:
            self.add_error("qr", "Your workshop has no website yet. Add it in Settings.")
        return given

    def geometry(self) -> LabelGeometry:
        """Return the chosen sheet, else the usual one of the layout and the workshop's paper."""
        usual = USUAL_SHEETS[TagLayout(self.cleaned_data["layout"]), self.paper]
        return self.geometries[self.cleaned_data["sheet"] or usual]


class TagRowForm(WorkshopForm):
    """One design and how many tags of it."""

    design = OneLineField(
        label="Design",
        max_length=300,
        required=False,
        widget=forms.TextInput(attrs={"list": "design-names", "autocomplete": "off"}),
    )
    count = WholeNumberField(label="Quantity", required=False, at_most=MOST_TAGS)
    price = MoneyField(
        label="Price",
        required=False,
        at_most=10_000_000,
        in_coins=True,
        help_text="Leave blank for the list price.",
    )

    def __init__(self, *args: Any, items: TagItems, **options: Any) -> None:
        super().__init__(*args, **options)
        self.items = items

    def clean(self) -> dict[str, Any]:
        """Find the item by name or code and the price it is to carry."""
        given = super().clean() or self.cleaned_data
        name, count = given.get("design"), given.get("count")
        if not name:
            if count:
                self.add_error("design", "Choose the design for these tags.")
            return given
        items = self.items.called(name)
        if len(items) > 1:
            names = ", ".join(f"“{item.name}”" for item in items)
            self.add_error("design", f"It has several prices. Choose one: {names}.")
            return given
        if not items:
            self.add_error("design", f"You have no design “{name}”.")
            return given
        given["row"] = items[0]
        entry = items[0].entry
        if count and given.get("price") is None and "price" not in self.errors:
            given["price"] = entry.price if entry else None
            if entry is None:
                self.add_error(
                    "price", f"“{items[0].name}” has no price in this channel. Enter one here."
                )
        return given


TagRowFormSet = formset_factory(
    TagRowForm, extra=3, can_delete=True, max_num=300, absolute_max=320, validate_max=True
)


class ChannelChoiceForm(forms.Form):
    """Which channel's prices the tags carry."""

    channel = forms.ChoiceField(label="Sales channel", required=False)

    def __init__(self, *args: Any, channels: list[Channel], **options: Any) -> None:
        super().__init__(*args, **options)
        self.rows = {str(channel.pk): channel for channel in channels}
        self.fields["channel"].choices = [(pk, row.name) for pk, row in self.rows.items()]  # type: ignore[attr-defined]

    def chosen(self) -> Channel | None:
        """Return the channel, the first one when none or an unknown one was said."""
        first = next(iter(self.rows.values()), None)
        if not self.is_bound or not self.is_valid():
            return first
        return self.rows.get(self.cleaned_data["channel"], first)


class _SheetLengthField(LengthField):
    """A measure of a label sheet, within what the database takes."""

    def __init__(self, label: str, help_text: str = "", at_least: int = 0) -> None:
        super().__init__(label=label, help_text=help_text, allow_zero=not at_least)
        self.at_least = Decimal(at_least)

    def validate(self, value: Any) -> None:
        """Refuse what no sheet of labels has."""
        super().validate(value)
        for limit, word in ((self.at_least, "least"), (Decimal(1200), "most")):
            if value is not None and (value < limit if word == "least" else value > limit):
                said = format_length(limit, self.workshop_unit, self.locale or PLAIN)
                raise forms.ValidationError(f"The {word} is {said}.", code=f"the_{word}")


class LabelSheetForm(WorkshopModelForm):
    """The geometry of an own label sheet, as on its packet."""

    name = OneLineField(label="Name", max_length=80)
    page_width_mm = _SheetLengthField("Page width", "A4 is 210 x 297 mm, letter 8 1/2 x 11 in.", 20)
    page_height_mm = _SheetLengthField("Page height", "", 20)
    columns = WholeNumberField(label="Columns", at_least=1, at_most=40)
    rows = WholeNumberField(label="Rows", at_least=1, at_most=100)
    label_width_mm = _SheetLengthField("Label width", "", 10)
    label_height_mm = _SheetLengthField("Label height", "", 8)
    left_mm = _SheetLengthField("Left margin")
    top_mm = _SheetLengthField("Top margin")
    pitch_x_mm = _SheetLengthField("Horizontal pitch", "", 10)
    pitch_y_mm = _SheetLengthField("Vertical pitch", "", 8)

    class Meta:
        model = LabelSheet
        fields = (
            "name",
            "page_width_mm",
            "page_height_mm",
            "columns",
            "rows",
            "label_width_mm",
            "label_height_mm",
            "left_mm",
            "top_mm",
            "pitch_x_mm",
            "pitch_y_mm",
        )

    def clean(self) -> dict[str, Any]:
        """Refuse labels that leave the page or overlap, beside the field that is wrong."""
        given = super().clean() or self.cleaned_data
        if not self.errors:
            values = {name: given[name] for name in self.Meta.fields}
            try:
                check_geometry(
                    geometry_of(LabelSheet(**values)), self.workshop.unit, self.workshop.locale
                )
            except LabelsDoNotFit as refusal:
                self.add_error(refusal.where or None, refusal.message)
        return given
