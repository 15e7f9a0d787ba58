"""A workshop file that is sent from a browser."""

from typing import Any

from django import forms

from maker.calc.strict_json import LARGEST_FILE
from maker.web.fields import OneLineField
from pricing.workshop_file.pictures import LARGEST_ZIP, is_zip


class WorkshopFileForm(forms.Form):
    """The file, and what the workshop is called if not as before."""

    use_required_attribute = False
    file = forms.FileField(
        label="Workshop file",
        help_text="A .json or .zip file exported from a workshop.",
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty. Choose another.",
        },
        widget=forms.FileInput(attrs={"accept": ".json,.zip,application/json,application/zip"}),
    )
    name = OneLineField(
        label="Workshop name",
        max_length=120,
        required=False,
        help_text="Leave blank to use the name in the file.",
    )

    def clean_file(self) -> Any:
        """Refuse what is too large before reading it."""
        file = self.cleaned_data["file"]
        head = file.read(4)
        file.seek(0)
        most = LARGEST_ZIP if is_zip(head) else LARGEST_FILE
        if file.size > most:
            megabytes = most // 1024 // 1024
            raise forms.ValidationError(f"The file is larger than {megabytes} MB.")
        return file
