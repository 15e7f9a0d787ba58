"""Choice of photos and PDFs beside an entry, or on the page of what was entered."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

ACCEPT = "image/jpeg,image/png,image/webp,application/pdf"


class SeveralFiles(forms.FileInput):
    """A choice of several files. Without `capture`, so that a phone offers camera and files."""

    allow_multiple_selected = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """Return every file that was chosen."""
        return files.getlist(name) if hasattr(files, "getlist") else files.get(name)


class FilesField(forms.FileField):
    """Several files at once; none is not a mistake here."""

    widget = SeveralFiles(attrs={"accept": ACCEPT, "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        """Return those that were chosen; what is in them is looked at when they are kept."""
        return [one for one in data or () if isinstance(one, UploadedFile)]


class FilesForm(forms.Form):
    """Photos or PDFs of a receipt."""

    use_required_attribute = False
    papers = FilesField(
        label="Photo or PDF",
        required=False,
        help_text="JPEG, PNG, WebP or PDF, up to 12 MB each.",
    )
