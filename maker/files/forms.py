"""Upload of a picture."""

from django import forms

from maker.files.cleaning import MOST_BYTES


class PictureForm(forms.Form):
    """One file; what it is, is found out from its content."""

    use_required_attribute = False
    file = forms.FileField(
        label="Picture",
        help_text="JPEG, PNG or WebP, up to 12 MB.",
        error_messages={"required": "Choose a picture."},
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )

    def clean_file(self) -> bytes:
        """Read it, at most one byte more than is taken."""
        data: bytes = self.cleaned_data["file"].read(MOST_BYTES + 1)
        return data
