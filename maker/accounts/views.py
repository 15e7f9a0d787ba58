"""Sign-in, sign-out, the own account and who belongs to a workshop."""

from typing import Any

from django.conf import settings
from django.contrib.auth import login, logout
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from maker.accounts.forms import SignInForm
from maker.web.access import may_own


def _safe_next(request: HttpRequest) -> str:
    """Return where she wanted to go, if that is a page of this site."""
    wanted = request.POST.get("next", request.GET.get("next", ""))
    safe = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if safe else ""


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Let a person in by address and password."""
    wanted = _safe_next(request)
    if request.user.is_authenticated:
        return redirect(wanted or settings.LOGIN_REDIRECT_URL)
    form = SignInForm(request, data=request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        login(request, form.get_user())
        return redirect(wanted or settings.LOGIN_REDIRECT_URL)
    return render(request, "maker/accounts/sign_in.html", {"form": form, "next": wanted})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the visit."""
    logout(request)
    return redirect(settings.LOGOUT_REDIRECT_URL)


@login_required
@require_safe
def account(request: HttpRequest) -> HttpResponse:
    """Show the person's own account."""
    return render(request, "maker/accounts/account.html")


@may_own
@require_safe
def people(request: Any) -> HttpResponse:
    """List who belongs to the workshop."""
    memberships = request.workshop.memberships.select_related("user").order_by("user__email", "pk")
    return render(request, "maker/accounts/people.html", {"memberships": memberships})
