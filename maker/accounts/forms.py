"""Forms of sign-in and the own account."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from maker.accounts.models import User


class SignInForm(AuthenticationForm):
    """Address and password; does not say which of the two was wrong."""

    use_required_attribute = False
    username = forms.EmailField(
        label="E-mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    error_messages = {
        "invalid_login": "The e-mail address or the password is not right. Try again.",
        "inactive": "The e-mail address or the password is not right. Try again.",
    }

    def clean_username(self) -> str:
        """Write the address the one way it is counted, so that capitals are no fresh tries."""
        address: Any = self.cleaned_data["username"]
        return str(address).strip().lower()


class NameForm(forms.ModelForm):
    """How the person is called."""

    class Meta:
        model = User
        fields = ("name",)
