"""An archive that is sent from a browser."""

from django import forms


class ArchiveForm(forms.Form):
    """The file; what is in it is looked at by the service."""

    use_required_attribute = False
    file = forms.FileField(
        label="Backup file",
        help_text="Ends in .zip and was made by Pleat & Penny.",
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty. Choose another.",
        },
        widget=forms.FileInput(attrs={"accept": ".zip"}),
    )
