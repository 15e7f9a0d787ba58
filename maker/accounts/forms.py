"""Forms of sign-in, the own account and the people of a workshop."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm

from maker.accounts.browsers import known_browser
from maker.accounts.guessing import one_try, password_counters, proof_counters
from maker.accounts.models import Membership, User
from maker.activity.visitor import visitor_address
from maker.web.fields import OneLineField

MOST_LETTERS = 1000


def _address_field(autocomplete: str) -> forms.EmailField:
    return forms.EmailField(
        label="Email",
        max_length=254,
        widget=forms.EmailInput({"autocomplete": autocomplete, "autocapitalize": "none"}),
    )


def _password_field(label: str, autocomplete: str, help_text: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=MOST_LETTERS,
        help_text=help_text,
        widget=forms.PasswordInput({"autocomplete": autocomplete}),
    )


CHOOSING_HINT = "At least 8 characters. Avoid common words, your name and your email."


class SignInForm(AuthenticationForm):
    """Address and password; does not say which of the two was wrong."""

    use_required_attribute = False
    username = _address_field("username")
    password = _password_field("Password", "current-password")
    error_messages = {
        "invalid_login": "That email and password don't match. Try again.",
        "inactive": "That email and password don't match. Try again.",
    }

    def clean_username(self) -> str:
        """Write the address the one way it is counted, so that capitals are no fresh tries."""
        address: Any = self.cleaned_data["username"]
        return str(address).strip().lower()

    def clean(self) -> Any:
        """Look at the password, unless too many were wrong. Refusals: TooManyTries."""
        account, password = self.cleaned_data.get("username"), self.cleaned_data.get("password")
        if not account or not password:
            return self.cleaned_data
        request: Any = self.request
        visitor, browser = visitor_address(request), known_browser(request, account)
        with one_try(password_counters(account, visitor, browser), forms.ValidationError):
            return super().clean()


class NameForm(forms.ModelForm):
    """How the person is called."""

    use_required_attribute = False
    name = OneLineField(
        label="Your name",
        max_length=120,
        required=False,
        help_text="Shown to the people of your workshops instead of your address.",
        widget=forms.TextInput({"autocomplete": "name"}),
    )

    class Meta:
        model = User
        fields = ("name",)


class OwnPasswordForm(PasswordChangeForm):
    """A new password of one's own; the old one proves who is typing."""

    use_required_attribute = False
    old_password = _password_field("Current password", "current-password")
    new_password1 = _password_field("New password", "new-password", CHOOSING_HINT)
    new_password2 = _password_field("Confirm new password", "new-password")

    def clean_old_password(self) -> Any:
        """Look at the old one, unless too many were wrong. Refusals: TooManyTries."""
        with one_try(proof_counters(self.user.pk), forms.ValidationError):
            return super().clean_old_password()


class ProofForm(forms.Form):
    """The password once more, from somebody who is signed in."""

    use_required_attribute = False
    password = _password_field("Password", "current-password")

    def __init__(self, user: Any, *args: Any, **kwargs: Any) -> None:
        self.user = user
        super().__init__(*args, **kwargs)

    def clean_password(self) -> str:
        """Look at it, unless too many were wrong. Refusals: TooManyTries."""
        password: str = self.cleaned_data["password"]
        with one_try(proof_counters(self.user.pk), forms.ValidationError):
            if not self.user.check_password(password):
                raise forms.ValidationError("That isn't your password. Try again.")
        return password


class LostForm(forms.Form):
    """Whose password is lost."""

    use_required_attribute = False
    email = _address_field("username")


class NewPasswordForm(SetPasswordForm):
    """A password in the place of a lost one."""

    use_required_attribute = False
    new_password1 = _password_field("New password", "new-password", CHOOSING_HINT)
    new_password2 = _password_field("Confirm new password", "new-password")


class CodeForm(forms.Form):
    """A code of the app or of the paper."""

    use_required_attribute = False
    code = OneLineField(
        label="Code",
        max_length=40,
        widget=forms.TextInput({"autocomplete": "one-time-code", "autocapitalize": "none"}),
    )


class PasskeyForm(forms.Form):
    """What the browser says of a passkey, and how she calls it."""

    use_required_attribute = False
    name = OneLineField(
        label="Name",
        max_length=60,
        required=False,
        help_text="So that you know it again, such as phone or laptop.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    answer = forms.CharField(required=False, widget=forms.HiddenInput)


class StayForm(forms.Form):
    """Stay signed in."""

    use_required_attribute = False
    stay_signed_in_days = forms.TypedChoiceField(
        label="Stay signed in", choices=User.StaySignedIn, coerce=int, widget=forms.RadioSelect
    )


class WelcomeForm(SetPasswordForm):
    """The first password of a person who was invited, and her name."""

    use_required_attribute = False
    new_password1 = _password_field("Choose a password", "new-password", CHOOSING_HINT)
    new_password2 = _password_field("Confirm password", "new-password")
    name = OneLineField(
        label="Your name",
        max_length=120,
        required=False,
        widget=forms.TextInput({"autocomplete": "name"}),
    )
    field_order = ("name", "new_password1", "new_password2")

    def save(self, commit: bool = True) -> Any:
        """Store both."""
        self.user.name = self.cleaned_data["name"]
        return super().save(commit)


class PersonForm(forms.Form):
    """Somebody to add to the workshop."""

    use_required_attribute = False
    email = _address_field("off")
    role = forms.ChoiceField(
        label="Role",
        choices=Membership.Role,
        initial=Membership.Role.HELPER,
        widget=forms.RadioSelect,
    )


class RoleForm(forms.Form):
    """Another role for a member."""

    use_required_attribute = False
    role = forms.ChoiceField(label="Role", choices=Membership.Role)
