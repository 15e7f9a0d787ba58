"""The form about the server that mail goes out by."""

import re
from typing import Any

from django import forms

from maker.mail.models import MailServer
from maker.setup.place import is_this_computer
from maker.web.fields import OneLineField


class MailServerForm(forms.ModelForm):
    """Server, port and who sends; a kept password never comes back to the page."""

    use_required_attribute = False
    host = OneLineField(label="Server", max_length=253, help_text="Like mail.example.org")
    port = forms.IntegerField(label="Port", min_value=1, max_value=65535, initial=587)
    username = OneLineField(
        label="User",
        max_length=254,
        required=False,
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        label="Password",
        required=False,
        strip=False,
        max_length=500,
        help_text="Leave blank to keep the stored one.",
        widget=forms.PasswordInput({"autocomplete": "off"}),
    )
    from_address = forms.EmailField(
        label="Sender", max_length=254, help_text="The address your mail comes from."
    )

    class Meta:
        model = MailServer
        fields = ("host", "port", "security", "username", "from_address")
        widgets = {"security": forms.RadioSelect}

    field_order = ("host", "port", "security", "username", "password", "from_address")

    def clean_host(self) -> Any:
        """Refuse what cannot be the name of a server."""
        host = self.cleaned_data["host"]
        # RFC 1035, 2.3.4: labels of 1 to 63 letters; looking up others fails as a fault
        labels = host.removesuffix(".").split(".")
        if not (
            re.fullmatch(r"[A-Za-z0-9.:_-]+", host) and all(0 < len(one) <= 63 for one in labels)
        ):
            raise forms.ValidationError("Enter a server's name, like mail.example.org")
        return host

    def clean(self) -> dict[str, Any]:
        """Refuse a password and letters that go over a network for everybody to read."""
        said = super().clean() or {}
        is_open = said.get("security") == MailServer.Security.NONE
        if is_open and said.get("host") and not is_this_computer(said["host"]):
            self.add_error(
                "security",
                "Choose STARTTLS or TLS: without them anybody on the way can read your letters.",
            )
        return said
