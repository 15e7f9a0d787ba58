"""Sign-in, sign-out, the own account and the people of a workshop."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from maker.accounts.devices import sign_out_others
from maker.accounts.entering import enter, must_prove, note_proof, safe_next, too_many_tries
from maker.accounts.forms import (
    NameForm,
    OwnPasswordForm,
    PersonForm,
    RoleForm,
    SignInForm,
    WelcomeForm,
)
from maker.accounts.guessing import TooManyTries
from maker.accounts.models import Membership, User
from maker.accounts.services import (
    add_person,
    ask_for_second_step,
    bring_back,
    change_role,
    person_of_link,
    removal_mark,
    remove_person,
    welcome_path,
)
from maker.accounts.tasks import PASSWORD_CHANGED, write_letter
from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.refusal import Refusal
from maker.web.access import may_own, row_or_404
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Let a person in by address and password."""
    wanted = safe_next(request)
    if request.user.is_authenticated:
        return redirect(wanted or settings.LOGIN_REDIRECT_URL)
    form = SignInForm(request, data=request.POST if request.method == "POST" else None)
    try:
        if request.method == "POST" and form.is_valid():
            return enter(request, form.get_user(), "password", wanted)
    except TooManyTries as refusal:
        if refusal.was_tried:
            _record_refused(form, "too many wrong passwords")
        return too_many_tries(request, refusal)
    if form.has_error(NON_FIELD_ERRORS, "invalid_login"):
        _record_refused(form, "wrong password")
    context = {"form": form, "next": wanted, "nobody_yet": not User.objects.exists()}
    return render(request, "maker/accounts/sign_in.html", context)


def _record_refused(form: SignInForm, why: str) -> None:
    # a name nobody has is not kept: people type passwords there
    tried = User.objects.filter(email=form.cleaned_data["username"]).first()
    request: Any = form.request
    record(Event.Kind.REFUSED, request=request, user=tried, about=why)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the visit."""
    if request.user.is_authenticated:
        record(Event.Kind.SIGNED_OUT, request=request)
    logout(request)
    answer = redirect(settings.LOGOUT_REDIRECT_URL)
    # whoever sits down here next finds no page with the button back (heard over HTTPS only)
    answer["Clear-Site-Data"] = '"cache"'
    return answer


@sensitive_post_parameters("new_password1", "new_password2")
@never_cache
@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest) -> HttpResponse:
    """Let an invited person choose her password, by the link she was handed."""
    user = person_of_link(request.GET.get("who", ""), request.GET.get("key", ""))
    if user is None:
        return render(request, "maker/accounts/link_over.html", status=404)
    form = WelcomeForm(user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        return enter(request, form.save(), "invitation", "")
    return render(request, "maker/accounts/welcome.html", {"form": form, "person": user})


@sensitive_post_parameters("old_password", "new_password1", "new_password2")
@login_required
@require_http_methods(["GET", "POST"])
def account(request: Any) -> HttpResponse:
    """Change the own name or password; the button says which of the two forms was sent."""
    posted = request.POST if request.method == "POST" else None
    for_name = posted if posted and "change_name" in posted else None
    for_password = posted if posted and "change_password" in posted else None
    # a copy, so that a refused name is not shown as if it were hers
    name_form = NameForm(for_name, instance=User.objects.get(pk=request.user.pk))
    password_form = OwnPasswordForm(request.user, for_password)
    if for_name is not None and name_form.is_valid():
        name_form.save()
        messages.success(request, "Your name is saved.")
        return redirect("maker:account")
    try:
        if for_password is not None and password_form.is_valid():
            update_session_auth_hash(request, password_form.save())
            sign_out_others(request.user, request.session.session_key)
            note_proof(request)
            record(Event.Kind.PASSWORD, request=request)
            write_letter(request.user, PASSWORD_CHANGED, request=request)
            messages.success(request, "Your password is changed. Other browsers are signed out.")
            return redirect("maker:account")
    except TooManyTries as refusal:
        return too_many_tries(request, refusal)
    context = {
        "name_form": name_form,
        "password_form": password_form,
        "form": password_form if for_password is not None else name_form,
    }
    return render(request, "maker/accounts/account.html", context)


@login_required
@require_POST
def leave(request: Any, pk: int) -> HttpResponse:
    """Give up one's own membership."""
    mine = Membership.objects.of_user(request.user)
    membership = get_object_or_404(mine, pk=pk)
    with refusal_told(request):
        remove_person(membership=membership)
        _record_person(request, Event.Kind.PERSON_REMOVED, membership)
        messages.success(request, f"You have left {membership.workshop}.")
    return redirect("maker:workshop_list")


def _record_person(request: Any, kind: Event.Kind, membership: Membership) -> None:
    about = f"{membership.user.email}, {membership.role}"
    record(kind, request=request, workshop=membership.workshop, about=about)


@never_cache
@may_own
@require_http_methods(["GET", "POST"])
def people(request: Any) -> HttpResponse:
    """List who belongs to the workshop, and add somebody."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            membership = add_person(workshop_id=request.workshop.pk, **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.where or None, refusal.message)
        else:
            _record_person(request, Event.Kind.PERSON_ADDED, membership)
            _hand_over(request, membership)
            return redirect("maker:people", request.workshop.slug)
    context = {
        "form": form,
        "members": list(Membership.objects.of(request.workshop).with_second_step()),
        "roles": [(role.value, role.label.partition(":")[0]) for role in Membership.Role],
        # shown once: whoever has the link can choose the password
        "link": request.session.pop("welcome_link", None),
    }
    return render(request, "maker/accounts/people.html", context)


def _hand_over(request: Any, membership: Membership) -> None:
    """Keep the link for the next page, or say that none is needed."""
    user = membership.user
    if user.has_usable_password():
        messages.success(
            request,
            f"{user} had an account here and was added. Make sure that {user.email} is the "
            "person you mean.",
        )
        return
    with refusal_told(request, messages.WARNING):
        path = welcome_path(membership)
        url = request.build_absolute_uri(path)
        request.session["welcome_link"] = {"email": user.email, "url": url}


@may_own
@must_prove
@require_POST
def people_second_step(request: Any) -> HttpResponse:
    """Ask everybody here for a second step, or stop asking."""
    asks = "ask" in request.POST
    with refusal_told(request):
        ask_for_second_step(workshop=request.workshop, owner=request.user, asks=asks)
        about = "asked of everybody" if asks else "not asked of everybody any more"
        record(Event.Kind.SECOND_STEP, request=request, about=about)
        messages.success(
            request,
            "Who has no second step sets one up at the next sign-in."
            if asks
            else "A second step is each person’s own choice again.",
        )
    return redirect("maker:people", request.workshop.slug)


@may_own
@require_POST
def person_role(request: Any, pk: int) -> HttpResponse:
    """Change the role of a member."""
    membership = row_or_404(Membership.objects.of(request.workshop), pk)
    form = RoleForm(request.POST)
    if not form.is_valid():
        messages.error(request, "That is not a role. Nothing was changed.")
        return redirect("maker:people", request.workshop.slug)
    was = membership.role
    with refusal_told(request):
        change_role(membership=membership, role=form.cleaned_data["role"])
        if membership.role != was:
            _record_person(request, Event.Kind.ROLE, membership)
        role = membership.get_role_display().partition(":")[0].lower()
        article = "a" if role == "viewer" else "an"
        messages.success(request, f"{membership.user} is now {article} {role}.")
    return redirect("maker:people", request.workshop.slug)


@may_own
@require_POST
def person_remove(request: Any, pk: int) -> HttpResponse:
    """Take a member out of the workshop."""
    membership = row_or_404(Membership.objects.of(request.workshop), pk)
    mark = removal_mark(membership)
    try:
        remove_person(membership=membership)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("maker:people", request.workshop.slug)
    _record_person(request, Event.Kind.PERSON_REMOVED, membership)
    if membership.user == request.user:
        messages.success(request, f"You have left {request.workshop}.")
        return redirect("maker:workshop_list")
    undo = reverse("maker:person_bring_back", args=[request.workshop.slug, mark])
    undo_message(request, f"{membership.user} no longer belongs to the workshop.", undo)
    return redirect("maker:people", request.workshop.slug)


@may_own
@require_POST
def person_bring_back(request: Any, mark: str) -> HttpResponse:
    """Undo a removal."""
    with refusal_told(request):
        membership = bring_back(workshop_id=request.workshop.pk, mark=mark)
        _record_person(request, Event.Kind.PERSON_ADDED, membership)
        messages.success(request, f"{membership.user} is back.")
    return redirect("maker:people", request.workshop.slug)


@may_own
@require_POST
def person_link(request: Any, pk: int) -> HttpResponse:
    """Make a fresh link for a member who has not chosen a password yet."""
    membership = row_or_404(Membership.objects.of(request.workshop), pk)
    _hand_over(request, membership)
    return redirect("maker:people", request.workshop.slug)
