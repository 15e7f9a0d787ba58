"""A workshop file that is sent from a browser."""

from typing import Any

from django import forms

from maker.calc.strict_json import LARGEST_FILE
from maker.web.fields import OneLineField


class WorkshopFileForm(forms.Form):
    """The file, and what the workshop is called if not as before."""

    use_required_attribute = False
    file = forms.FileField(
        label="Workshop file",
        help_text="Ends in .json and was exported from a workshop.",
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty. Choose another.",
        },
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )
    name = OneLineField(
        label="Name of the workshop",
        max_length=120,
        required=False,
        help_text="Empty: as it is called in the file.",
    )

    def clean_file(self) -> Any:
        """Refuse what is too large before reading it."""
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            megabytes = LARGEST_FILE // 1024 // 1024
            raise forms.ValidationError(f"The file is larger than {megabytes} MB.")
        return file
