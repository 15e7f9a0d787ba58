"""The second step of signing in, passkeys, and setting both up."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from maker.accounts.devices import browser_name
from maker.accounts.entering import half_in, let_in, must_prove, safe_next, too_many_tries
from maker.accounts.forms import CodeForm, PasskeyForm
from maker.accounts.guessing import TooManyTries, count_try, passkey_counters
from maker.accounts.models import Membership, User
from maker.accounts.one_time_codes import app_address, base32
from maker.accounts.passkeys import (
    SITE_NAME,
    check_used,
    options_to_add,
    options_to_use,
    read_added,
)
from maker.accounts.second_steps import (
    RECOVERY_CODE,
    WrongCode,
    add_code_app,
    add_passkey,
    check_code,
    new_recovery_codes,
    new_secret,
    opened,
    remove_code_app,
    remove_passkey,
    sealed,
    second_steps_of,
)
from maker.accounts.tasks import write_letter
from maker.activity.models import Event
from maker.activity.services import record
from maker.activity.visitor import visitor_address
from maker.calc.refusal import Refusal
from maker.web.code_square import code_square
from maker.web.refusals import show_refusal

NEW_APP = "new_code_app"
# what a letter says for each change
LETTERS = {
    "codes on": "Codes from an app were turned on",
    "codes off": "Codes from an app were turned off",
    "passkey added": "A passkey was added",
    "passkey removed": "A passkey was removed",
    "new recovery codes": "New recovery codes were made",
}
JSON = "application/json"


@sensitive_post_parameters("code")
@never_cache
@require_http_methods(["GET", "POST"])
def second_step(request: HttpRequest) -> HttpResponse:
    """Ask who showed her password for the second step."""
    user = half_in(request)
    if user is None:
        return redirect("maker:sign_in")
    wanted = safe_next(request)
    is_passkey = request.method == "POST" and "answer" in request.POST
    form = CodeForm(request.POST if request.method == "POST" and not is_passkey else None)
    problem = ""
    try:
        if is_passkey:
            check_used(request, user, request.POST["answer"])
            return _in(request, user, "password and passkey", wanted)
        if request.method == "POST" and form.is_valid():
            how = check_code(user=user, code=form.cleaned_data["code"])
            if how == RECOVERY_CODE:
                write_letter(user, "A recovery code was used to sign in", request=request)
            return _in(request, user, f"password and {how}", wanted)
    except TooManyTries as refusal:
        if refusal.was_tried:
            record(Event.Kind.REFUSED, request=request, user=user, about="too many wrong codes")
        return too_many_tries(request, refusal)
    except WrongCode as refusal:
        record(Event.Kind.REFUSED, request=request, user=user, about="wrong code")
        show_refusal(form, refusal)
    except Refusal as refusal:
        problem = refusal.message
    context = {"form": form, "next": wanted, "steps": second_steps_of(user), "problem": problem}
    return render(request, "maker/accounts/second_step.html", context)


@never_cache
@require_POST
def passkey_sign_in(request: HttpRequest) -> HttpResponse:
    """Let a person in by a passkey alone: it is something she has, and it asked who she is."""
    wanted = safe_next(request)
    try:
        count_try(passkey_counters(visitor_address(request)))
        user = check_used(request, None, request.POST.get("answer", ""))
    except TooManyTries as refusal:
        return too_many_tries(request, refusal)
    except Refusal as refusal:
        record(Event.Kind.REFUSED, request=request, about="passkey")
        messages.error(request, refusal.message)
        return redirect("maker:sign_in")
    return _in(request, user, "passkey", wanted)


@never_cache
@require_POST
def passkey_asked(request: HttpRequest) -> HttpResponse:
    """Tell the browser that any passkey will do to sign in with."""
    return _asked(request, None)


@never_cache
@require_POST
def second_step_asked(request: HttpRequest) -> HttpResponse:
    """Tell the browser whose passkey is wanted after the password."""
    user = half_in(request)
    return redirect("maker:sign_in") if user is None else _asked(request, user)


def _asked(request: HttpRequest, user: User | None) -> HttpResponse:
    try:
        # each asking keeps a row for the browser that asks
        count_try(passkey_counters(visitor_address(request)))
        return HttpResponse(options_to_use(request, user), content_type=JSON)
    except Refusal as refusal:
        return JsonResponse({"problem": refusal.message}, status=409)


def _in(request: HttpRequest, user: User, how: str, wanted: str) -> HttpResponse:
    response = redirect(wanted or "maker:workshop_list")
    let_in(request, user, response, how)
    return response


@never_cache
@must_prove
@require_http_methods(["GET"])
def my_second_step(request: Any) -> HttpResponse:
    """Show what a person has set up."""
    return render(
        request, "maker/accounts/my_second_step.html", {"steps": second_steps_of(request.user)}
    )


@never_cache
@login_required
@require_http_methods(["GET"])
def second_step_wanted(request: Any) -> HttpResponse:
    """Lead to a second step whoever has none where a workshop asks for one."""
    asking = Membership.objects.of_user(request.user).asking_for_second_step()
    if second_steps_of(request.user).is_on or not asking:
        return redirect(safe_next(request) or "maker:workshop_list")
    context = {"workshops": [one.workshop for one in asking], "next": safe_next(request)}
    return render(request, "maker/accounts/second_step_wanted.html", context)


@sensitive_post_parameters("code")
@never_cache
@must_prove
@require_http_methods(["GET", "POST"])
def code_app_add(request: Any) -> HttpResponse:
    """Show the secret for the app, and ask for one of its codes before it counts."""
    if NEW_APP not in request.session:
        request.session[NEW_APP] = sealed(new_secret())
    sealed_secret = request.session[NEW_APP]
    form = CodeForm(request.POST or None)
    try:
        if request.method == "POST" and form.is_valid():
            codes = add_code_app(
                user=request.user, sealed_secret=sealed_secret, code=form.cleaned_data["code"]
            )
            del request.session[NEW_APP]
            return _changed(request, "codes on", "You'll be asked for a code from now on.", codes)
        secret = opened(sealed_secret)
    except TooManyTries as refusal:
        return too_many_tries(request, refusal)
    except WrongCode as refusal:
        show_refusal(form, refusal)
        secret = opened(sealed_secret)
    except Refusal:
        # sealed with a secret key that is no longer used: start again
        del request.session[NEW_APP]
        return redirect("maker:code_app_add")
    words = base32(secret)
    context = {
        "form": form,
        "secret": " ".join(words[at : at + 4] for at in range(0, len(words), 4)),
        "picture": code_square(app_address(secret, request.user.email, SITE_NAME)),
    }
    return render(request, "maker/accounts/code_app_add.html", context)


@must_prove
@require_POST
def code_app_remove(request: Any) -> HttpResponse:
    """Ask for no codes any more."""
    if not remove_code_app(request.user):
        return redirect("maker:my_second_step")
    return _changed(request, "codes off", "You won't be asked for codes any more.", [])


@never_cache
@must_prove
@require_POST
def recovery_codes_new(request: Any) -> HttpResponse:
    """Make a fresh set of recovery codes and show it once."""
    if not second_steps_of(request.user).is_on:
        messages.info(request, "Set up codes or a passkey first.")
        return redirect("maker:my_second_step")
    codes = new_recovery_codes(request.user)
    return _changed(request, "new recovery codes", "The old codes no longer work.", codes)


@never_cache
@must_prove
@require_http_methods(["GET", "POST"])
def passkey_add(request: Any) -> HttpResponse:
    """Add a passkey."""
    called = browser_name(request.headers.get("User-Agent", ""))
    form = PasskeyForm(request.POST or None, initial={"name": called})
    if request.method == "POST" and form.is_valid():
        name = form.cleaned_data["name"] or called
        try:
            passkey = read_added(request, request.user, form.cleaned_data["answer"], name)
            codes = add_passkey(user=request.user, passkey=passkey)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            return _changed(request, "passkey added", f"Added the passkey “{name}”.", codes)
    return render(request, "maker/accounts/passkey_add.html", {"form": form})


@never_cache
@must_prove
@require_POST
def passkey_add_asked(request: Any) -> HttpResponse:
    """Tell the browser what kind of passkey is wanted."""
    try:
        return HttpResponse(options_to_add(request, request.user), content_type=JSON)
    except Refusal as refusal:
        return JsonResponse({"problem": refusal.message}, status=409)


@must_prove
@require_POST
def passkey_remove(request: Any, pk: int) -> HttpResponse:
    """Remove a passkey."""
    if not remove_passkey(request.user, pk):
        return redirect("maker:my_second_step")
    return _changed(request, "passkey removed", "Passkey removed.", [])


def _changed(request: Any, what: str, told: str, codes: list[str]) -> HttpResponse:
    record(Event.Kind.SECOND_STEP, request=request, about=what)
    write_letter(request.user, LETTERS[what], request=request)
    if codes:
        context = {"codes": codes, "told": told}
        return render(request, "maker/accounts/recovery_codes.html", context)
    messages.success(request, told)
    return redirect("maker:my_second_step")
