"""Form fields that read what a maker types: lengths, money, shares, minutes.

Each keeps the typed text on an error and says what is wrong, where and how to mend it.
All are text entries with a decimal keyboard on a phone, never `type=number`.
"""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from maker.calc.entries import parse_minutes, parse_money
from maker.calc.money import is_in_coins, minor_digits, to_minor
from maker.calc.refusal import Refusal
from maker.calc.units import decimal_mark, format_length, format_number, parse_length, parse_number
from maker.web.readings import note_reading

# how numbers are written where nobody said: with a point
PLAIN = "en_GB"


class DecimalText(forms.TextInput):
    """A text entry that brings up the number keys."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})


class NumberField(forms.Field):
    """A number as typed (`1.5`, `1,5`, `1 1/2`), from `at_least` to `at_most`, as Decimal.

    `unit` is shown beside the entry, and may be typed with it. With `decimals` the value is refused
    when it is finer. `locale` is how the workshop writes numbers; without one (a file) numbers
    have a point.
    """

    widget = DecimalText
    unit: str = ""
    locale: str | None = None

    def __init__(
        self,
        *,
        unit: str = "",
        at_least: Decimal | int = 0,
        at_most: Decimal | int = 1_000_000_000,
        above_zero: bool = False,
        decimals: int = 6,
        **options: Any,
    ) -> None:
        super().__init__(**options)
        self.unit = unit
        self.at_least, self.at_most = Decimal(at_least), Decimal(at_most)
        self.above_zero, self.decimals = above_zero, decimals

    def read(self, text: str) -> Decimal:
        """Turn the typed text into a number. Errors: ValidationError."""
        negative = bool(re.match(r"\D{0,8}[-−]", text))
        plain = re.sub("[-−]", "", text, count=1).strip() if negative else text
        try:
            fraction = self.read_fraction(plain)
        except Refusal as refusal:
            raise ValidationError(refusal.message, code="unreadable") from refusal
        note_reading(text, self.locale)
        value = _exact(fraction, self.decimals)
        if value is None:
            raise ValidationError(
                f"“{text}” is finer than {self.decimals} decimals.", code="too_fine"
            )
        return -value if negative else value

    def read_fraction(self, text: str) -> Fraction:
        """Read the number without its sign. Errors: Refusal."""
        unit = re.escape(self.unit)
        return parse_number(re.sub(rf"\s*{unit}$", "", text, flags=re.IGNORECASE), self.locale)

    def to_python(self, value: Any) -> Any:
        """Return the Decimal, or None for an empty entry."""
        if value in self.empty_values:
            return None
        if isinstance(value, Decimal | int):
            return Decimal(value)
        text = str(value).strip()
        if not text:
            return None
        return self.read(text[:200])

    def validate(self, value: Any) -> None:
        """Refuse what is missing, too small or too large."""
        super().validate(value)
        if value is None:
            return
        if self.above_zero and value <= 0:
            raise ValidationError("Enter a number above 0.", code="too_small")
        if value < self.at_least:
            raise ValidationError(f"The least is {self.write(self.at_least)}.", code="too_small")
        if value > self.at_most:
            raise ValidationError(f"The most is {self.write(self.at_most)}.", code="too_large")

    def write(self, value: Decimal) -> str:
        """Write a number so that reading it gives the same."""
        return format_number(value, self.locale or PLAIN)

    def prepare_value(self, value: Any) -> Any:
        """Show a stored number without needless zeros, and typed text as it was typed."""
        return self.write(value) if isinstance(value, Decimal) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare numbers, so that 1.50 and 1.5 are the same."""
        try:
            return bool(self.to_python(initial) != self.to_python(data))
        except ValidationError:
            return True


def _exact(value: Fraction, decimals: int) -> Decimal | None:
    """Return the fraction as a Decimal; None when it needs more decimals than allowed.

    A third typed as 1/3 has no end, so a fraction that never ends is rounded half up.
    """
    scaled = value * 10**decimals
    if scaled.denominator == 1:
        return (Decimal(scaled.numerator).scaleb(-decimals)).normalize() + Decimal(0)
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    if rest == 1:
        return None
    return Decimal(int(scaled + Fraction(1, 2))).scaleb(-decimals)


class MoneyField(NumberField):
    """An amount of money as typed (`9.60`, `$9.60`, `9,60 €`); `unit` shows the currency.

    One that is asked or paid is `in_coins`: finer than the currency it is refused, as what is left
    of it could never be paid.
    """

    def __init__(self, *, in_coins: bool = False, **options: Any) -> None:
        super().__init__(**options)
        self.in_coins = in_coins

    def validate(self, value: Any) -> None:
        """Refuse what no coin can pay as well."""
        super().validate(value)
        if self.in_coins and value is not None and not is_in_coins(value, self.unit):
            raise ValidationError("Your currency has no coin that small.", code="too_fine")

    def read_fraction(self, text: str) -> Fraction:
        """Read it in the workshop's currency; another's sign is refused."""
        if not self.unit:
            return super().read_fraction(text)
        return parse_money(text, self.unit, self.locale)

    def prepare_value(self, value: Any) -> Any:
        """Show a stored amount with the decimals of its currency, as a receipt does."""
        if isinstance(value, Decimal) and self.unit:
            digits = minor_digits(self.unit)
            if value == to_minor(value, digits):
                text = f"{to_minor(value, digits):f}"
                return text.replace(".", decimal_mark(self.locale or PLAIN))
        return super().prepare_value(value)


class MinutesField(NumberField):
    """A time of work as typed (`90`, `1 h 30`, `1:30`, `45 s`); gives minutes, or hours."""

    def __init__(self, *, unit: str = "min", **options: Any) -> None:
        super().__init__(unit=unit, **options)

    def read_fraction(self, text: str) -> Fraction:
        """Read it in the unit the field is kept in ("min" or "h")."""
        minutes = parse_minutes(text, self.unit, self.locale)
        return minutes / 60 if self.unit == "h" else minutes


class HoursField(MinutesField):
    """Hours of a day as typed (`3.5`, `1 h 30`); gives and takes whole minutes."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"unit": "h", "at_most": 24, "decimals": 4, **options})

    def clean(self, value: Any) -> Any:
        """Return whole minutes, halves up, or None."""
        hours = super().clean(value)
        return None if hours is None else int(hours * 60 + Decimal("0.5"))

    def prepare_value(self, value: Any) -> Any:
        """Show stored minutes as hours with at most two decimals."""
        if not isinstance(value, int):
            return value
        return self.write((Decimal(value) / 60).quantize(Decimal("0.01")))

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare minutes."""
        try:
            return bool(initial != self.clean(data))
        except ValidationError:
            return True


class WholeNumberField(NumberField):
    """A whole number; gives an int."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            widget=options.pop("widget", DecimalText({"inputmode": "numeric"})),
            **options,
        )

    def read(self, text: str) -> Decimal:
        """Refuse fractions with words that fit."""
        value = super().read(text)
        if value != value.to_integral_value():
            raise ValidationError(
                f"“{text}” isn't a whole number. Enter one like 12.", code="not_whole"
            )
        return value

    def clean(self, value: Any) -> Any:
        """Return an int or None."""
        cleaned = super().clean(value)
        return None if cleaned is None else int(cleaned)

    def prepare_value(self, value: Any) -> Any:
        """Show what was typed."""
        return value


class WholeMinutesField(WholeNumberField):
    """A time of work in whole minutes, as typed (`90`, `1 h 30`)."""

    def read_fraction(self, text: str) -> Fraction:
        """Read it in minutes."""
        return parse_minutes(text, "min", self.locale)


class PercentField(NumberField):
    """A percentage as typed (`12.5`); gives and takes a share from 0 to 1."""

    def __init__(self, *, at_most: Decimal | int = 100, **options: Any) -> None:
        super().__init__(unit="%", at_most=at_most, decimals=4, **options)

    def clean(self, value: Any) -> Any:
        """Return the share."""
        percentage = super().clean(value)
        return None if percentage is None else percentage / 100

    def prepare_value(self, value: Any) -> Any:
        """Show a stored share as a percentage."""
        return self.write(value * 100) if isinstance(value, Decimal) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare a stored share with the percentage typed; an empty entry is not a change."""
        shown = None if initial in self.empty_values else Decimal(initial) * 100
        return super().has_changed(shown, data)


class LengthField(forms.Field):
    """A length as typed (`7 1/2"`, `7½`, `190,5 mm`); gives millimetres, exactly.

    `workshop_unit` ("in" or "mm") holds for a bare number; set it with `use_unit` in the
    form's `__init__`.
    """

    widget = DecimalText
    unit: str = "mm"
    locale: str | None = None

    def __init__(self, *, allow_zero: bool = False, **options: Any) -> None:
        super().__init__(**options)
        self.allow_zero = allow_zero
        self.use_unit("mm")

    def use_unit(self, unit: str, locale: str | None = None) -> None:
        """Read bare numbers in this unit and show stored lengths in it, as the locale writes."""
        self.workshop_unit = self.unit = unit
        self.locale = locale or self.locale
        # fractions and inch marks are not on a phone's number keys
        self.widget.attrs["inputmode"] = "text" if unit == "in" else "decimal"

    def to_python(self, value: Any) -> Any:
        """Return millimetres, or None for an empty entry. Errors: ValidationError."""
        if value in self.empty_values:
            return None
        if isinstance(value, Decimal | int):
            return Decimal(value)
        text = str(value).strip()[:200]
        if not text:
            return None
        try:
            length = parse_length(text, self.workshop_unit, self.locale)
        except Refusal as refusal:
            raise ValidationError(refusal.message, code="unreadable") from refusal
        note_reading(text, self.locale)
        if length <= 0 and not self.allow_zero:
            raise ValidationError("Enter a length above 0.", code="too_small")
        return length

    def prepare_value(self, value: Any) -> Any:
        """Show a stored length in the workshop's unit, without the unit.

        A length that this would round (190 mm in inches) is shown as it is, in millimetres, so
        that saving a form without a change changes nothing.
        """
        if not isinstance(value, Decimal):
            return value
        locale = self.locale or PLAIN
        text = format_length(value, self.workshop_unit, locale).rsplit(" ", 1)[0]
        try:
            is_exact = not value or parse_length(text, self.workshop_unit, self.locale) == value
        except Refusal:  # rounded up over the longest length
            is_exact = False
        return text if is_exact else f"{format_number(value, locale)} mm"

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare lengths, so that 7.5 and 7 1/2 are the same."""
        try:
            return bool(self.to_python(initial) != self.to_python(data))
        except ValidationError:
            return True


# what a browser sends, and what is clear when typed by hand: 3/4 could be March or April
DATE_FORMATS = ("%Y-%m-%d", "%d.%m.%Y", "%d %b %Y", "%d %B %Y")


class DayField(forms.DateField):
    """A day, with the browser's calendar where there is one."""

    def __init__(self, *, required_text: str = "Enter the date.", **options: Any) -> None:
        super().__init__(
            input_formats=DATE_FORMATS,
            widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
            error_messages={
                "invalid": "This isn't a date. Enter one like 31 March 2026.",
                "required": required_text,
            },
            **options,
        )


class OneLineField(forms.CharField):
    """A short text on one line; line breaks and control characters become spaces."""

    def to_python(self, value: Any) -> Any:
        """Return the text tidied up."""
        text = super().to_python(value) or ""
        return " ".join("".join(c if c.isprintable() else " " for c in text).split())


class LongText(forms.Textarea):  # noqa: TID251 - the one that mends it
    """An entry of several lines; a browser ends each with two signs, we keep one."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """Return the text with its line ends as they are stored."""
        value = super().value_from_datadict(data, files, name)
        return value.replace("\r\n", "\n") if isinstance(value, str) else value


class WorkshopForm(forms.Form):
    """A form inside a workshop: knows its unit and currency and tells its fields.

    With `as_file` numbers are read as files have them, with a point, whatever the workshop's
    locale: a file's `1.234` is never a thousand, and `1,234` is refused beside its cell.
    """

    use_required_attribute = False

    def __init__(self, *args: Any, workshop: Any, as_file: bool = False, **options: Any) -> None:
        super().__init__(*args, **options)
        self.workshop = workshop
        self.locale = None if as_file else workshop.locale
        tell_fields(self, workshop, as_file=as_file)


class WorkshopModelForm(forms.ModelForm):
    """A model form inside a workshop."""

    use_required_attribute = False

    def __init__(self, *args: Any, workshop: Any, as_file: bool = False, **options: Any) -> None:
        super().__init__(*args, **options)
        self.workshop = workshop
        self.locale = None if as_file else workshop.locale
        tell_fields(self, workshop, as_file=as_file)


def tell_fields(form: forms.BaseForm, workshop: Any, *, as_file: bool = False) -> None:
    """Give the fields the workshop's unit and currency, and how numbers are written."""
    for field in form.fields.values():
        if hasattr(field, "locale"):
            field.locale = None if as_file else workshop.locale
        if hasattr(field, "use_lengths"):
            field.use_lengths("mm" if as_file else workshop.unit)
        if isinstance(field, LengthField):
            field.use_unit(workshop.unit)
        elif isinstance(field, MoneyField):
            field.unit = workshop.currency
