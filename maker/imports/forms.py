"""What is asked about a file of rows."""

from typing import Any

from django import forms

from maker.documents.grid import MOST_BYTES, MOST_ROWS_READ


class DayOrderField(forms.ChoiceField):
    """Which number comes first in a day like 3/4/2026; asked once for a file."""

    def __init__(self) -> None:
        super().__init__(
            label="Dates like 3/4/2026",
            required=False,
            choices=[
                ("", "none in the file"),
                ("day", "the day comes first"),
                ("month", "the month comes first"),
            ],
        )


class UploadForm(forms.Form):
    """The file, and what cannot always be found out about it."""

    use_required_attribute = False
    file = forms.FileField(
        label="File",
        help_text=f"CSV or XLSX, up to 5 MB and {MOST_ROWS_READ:,} rows.",
        allow_empty_file=True,
        error_messages={"required": "Choose a file."},
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt,.tsv"}),
    )
    day_order = DayOrderField()
    encoding = forms.ChoiceField(
        label="Encoding",
        required=False,
        help_text="Change it if accents look wrong.",
        choices=[
            ("", "detect"),
            ("utf-8", "UTF-8"),
            ("cp1252", "western Europe (Windows)"),
            ("cp1250", "central Europe (Windows)"),
            ("iso8859-15", "western Europe (ISO 8859-15)"),
            ("mac_roman", "western Europe (old Macintosh)"),
        ],
    )
    separator = forms.ChoiceField(
        label="Separator",
        required=False,
        help_text="Only for CSV.",
        choices=[
            ("", "detect"),
            (",", "comma"),
            (";", "semicolon"),
            ("\t", "tab"),
            ("|", "pipe |"),
        ],
    )

    ask_columns = forms.BooleanField(
        label="Match the columns again",
        required=False,
        help_text="If its columns were mixed up.",
    )

    def clean_separator(self) -> str:
        """Keep the tab, which is blank."""
        return str(self.data.get("separator", ""))

    def clean_file(self) -> Any:
        """Refuse what is too large before reading it."""
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError("The file is larger than 5 MB. Split it.")
        return file
