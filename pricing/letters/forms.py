"""Entry of a letter's text."""

from django import forms

from maker.web.fields import LongText, OneLineField


class LetterTextForm(forms.Form):
    """Subject and message, with placeholders in braces."""

    use_required_attribute = False
    subject = OneLineField(
        label="Subject", max_length=200, error_messages={"required": "Enter a subject."}
    )
    text = forms.CharField(
        label="Message",
        max_length=10_000,
        widget=LongText(attrs={"rows": 14}),
        error_messages={"required": "Enter a message."},
    )


class LetterForm(forms.Form):
    """A message before it is sent: to whom, and what it says."""

    use_required_attribute = False
    to = forms.EmailField(label="To", max_length=254)
    subject = OneLineField(label="Subject", max_length=200)
    text = forms.CharField(
        label="Message",
        max_length=10_000,
        widget=LongText(attrs={"rows": 12}),
        help_text="Change what you like; keep the link.",
    )
