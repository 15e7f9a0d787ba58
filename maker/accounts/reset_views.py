"""Pages for who lost her password, and for how mail goes out."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from maker.accounts.browsers import known_browser
from maker.accounts.entering import must_prove, too_many_tries
from maker.accounts.forms import LostForm, NewPasswordForm
from maker.accounts.guessing import TooManyTries, count_try, forget_tries, mail_counters
from maker.accounts.models import User
from maker.accounts.resets import choose_password, person_of_key
from maker.accounts.tasks import PASSWORD_CHANGED, send_reset_letter, write_letter
from maker.activity.models import Event
from maker.activity.services import record
from maker.activity.visitor import visitor_address
from maker.calc.refusal import Refusal
from maker.mail.forms import MailServerForm
from maker.mail.models import mail_server
from maker.mail.services import forget_mail_server, mail_folder, save_mail_server, send_letter
from maker.web.access import may_look_after
from maker.web.refusals import show_refusal


@never_cache
@require_http_methods(["GET", "POST"])
def lost_password(request: HttpRequest) -> HttpResponse:
    """Send a link where mail is set up, else say who can help."""
    if mail_server() is None:
        return render(request, "maker/accounts/lost_password.html", {"by_command": True})
    form = LostForm(request.POST or None)
    is_sent = request.method == "POST" and form.is_valid()
    if is_sent:
        account = form.cleaned_data["email"].strip().lower()
        try:
            count_try(mail_counters(account, visitor_address(request)))
        except TooManyTries as refusal:
            return too_many_tries(request, refusal)
        # asked and queued for everybody alike, so that nothing tells who has an account
        user = User.objects.filter(email=account).first()
        send_reset_letter.enqueue(user.pk if user else 0, request.build_absolute_uri("/"))
        form = LostForm()
    return render(request, "maker/accounts/lost_password.html", {"form": form, "is_sent": is_sent})


@sensitive_post_parameters("new_password1", "new_password2")
@never_cache
@require_http_methods(["GET", "POST"])
def new_password(request: HttpRequest) -> HttpResponse:
    """Let who has the link choose a password; she signs in with it afterwards."""
    key = request.GET.get("key", "")
    user = person_of_key(key)
    if user is None:
        return render(request, "maker/accounts/link_over.html", {"is_reset": True}, status=404)
    form = NewPasswordForm(user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        changed = choose_password(key=key, password=form.cleaned_data["new_password1"])
        if changed is None:
            return render(request, "maker/accounts/link_over.html", {"is_reset": True}, status=404)
        browser = known_browser(request, changed.email)
        forget_tries(changed.email, visitor_address(request), browser)
        record(Event.Kind.PASSWORD, request=request, user=changed, about="by letter")
        write_letter(changed, PASSWORD_CHANGED, request=request)
        messages.success(request, "Your password is changed. Sign in with it.")
        return redirect("maker:sign_in")
    return render(request, "maker/accounts/new_password.html", {"form": form, "person": user})


@sensitive_post_parameters("password")
@never_cache
@may_look_after
@must_prove
@require_http_methods(["GET", "POST"])
def mail(request: Any) -> HttpResponse:
    """Set up by which server letters go out."""
    server = mail_server()
    form = MailServerForm(request.POST or None, instance=server)
    if request.method == "POST" and form.is_valid():
        try:
            save_mail_server(**form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            about = f"mail by {form.cleaned_data['host']}"
            record(Event.Kind.INSTALLATION, request=request, about=about)
            messages.success(request, "Saved. Now send yourself a test message.")
            return redirect("maker:mail")
    context = {"form": form, "server": mail_server(), "folder": mail_folder()}
    return render(request, "maker/accounts/mail.html", context)


@may_look_after
@must_prove
@require_POST
def mail_test(request: Any) -> HttpResponse:
    """Send a letter to whoever asks for it."""
    try:
        count_try(mail_counters(request.user.email, visitor_address(request)))
        send_letter(
            to=request.user.email,
            subject="Test message from Pleat & Penny",
            text="This is the test message you asked for. Mail goes out as it should.\n",
        )
    except TooManyTries as refusal:
        return too_many_tries(request, refusal)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        where = "sent to" if mail_server() else f"written into {mail_folder()}, for"
        messages.success(request, f"The test message was {where} {request.user.email}.")
    return redirect("maker:mail")


@may_look_after
@must_prove
@require_POST
def mail_forget(request: Any) -> HttpResponse:
    """Write letters into the folder again."""
    forget_mail_server()
    record(Event.Kind.INSTALLATION, request=request, about="mail into the folder")
    messages.success(request, "Mail server removed. Mail is written to the folder.")
    return redirect("maker:mail")
