"""Copies of the whole installation in the browser, for who looks after it.

The long steps are single calls of the services, which know no request.
"""

from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from maker import VERSION
from maker.accounts.entering import must_prove
from maker.accounts.models import User
from maker.activity.models import Event
from maker.activity.services import record
from maker.backup.archive import Manifest
from maker.backup.folder import Copy, copies, copy_named, own_folder
from maker.backup.forms import ArchiveForm
from maker.backup.models import Installation
from maker.backup.services import back_up, look_into, restore, take_in
from maker.backup.showing import last_copy
from maker.calc.refusal import Refusal
from maker.troubles.time_limit import takes_its_time
from maker.web.access import may_look_after
from maker.web.refusals import show_refusal


@never_cache
@may_look_after
@must_prove
@require_safe
def backups(request: Any) -> HttpResponse:
    """List the copies, with what can be done with them."""
    return _list(request, ArchiveForm())


def _list(request: Any, form: ArchiveForm) -> HttpResponse:
    found: list[Copy] = []
    try:
        found = copies(own_folder())
    except Refusal as refusal:
        messages.error(request, refusal.message)
    context = {
        "copies": found,
        "form": form,
        "last_copy": last_copy(Installation.objects.the_one(), timezone.now()),
    }
    return render(request, "maker/backup/list.html", context)


@takes_its_time
@may_look_after
@must_prove
@require_POST
def backup_make(request: Any) -> HttpResponse:
    """Make a copy now."""
    try:
        made = back_up(reason="by-hand")
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        record(Event.Kind.BACKED_UP, request=request, about=made.path.name)
        messages.success(request, "The backup is made and was read back. Download it below.")
    return redirect("maker:backups")


@never_cache
@may_look_after
@must_prove
@require_safe
def backup_download(request: Any, name: str) -> HttpResponseBase:
    """Send a copy out."""
    copy = _copy_or_404(name)
    record(Event.Kind.EXPORTED, request=request, about=f"backup {copy.name}")
    return FileResponse(copy.path.open("rb"), as_attachment=True, filename=copy.name)


@takes_its_time
@may_look_after
@must_prove
@require_POST
def backup_upload(request: Any) -> HttpResponse:
    """Take a copy in, and lead on to what is in it."""
    form = ArchiveForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            copy = take_in(form.cleaned_data["file"].chunks())
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            record(Event.Kind.IMPORTED, request=request, about=f"backup {copy.name}")
            return redirect("maker:backup_restore", copy.name)
    return _list(request, form)


@takes_its_time
@never_cache
@may_look_after
@must_prove
@require_http_methods(["GET", "POST"])
def backup_restore(request: Any, name: str) -> HttpResponse:
    """Show what is in a copy, and put it in the place of everything when that is wanted."""
    copy = _copy_or_404(name)
    try:
        if request.method == "POST":
            return _restored(request, restore(copy.path, replace=True).manifest)
        manifest = look_into(copy.path)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("maker:backups")
    context = {"copy": copy, "facts": manifest.facts, "version": VERSION}
    return render(request, "maker/backup/restore.html", context)


def _restored(request: Any, manifest: Manifest) -> HttpResponse:
    """Write down who did it among what is there now, where nobody is signed in any more."""
    email, made_at = request.user.email, timezone.localtime(manifest.facts.made_at)
    logout(request)
    who = User.objects.filter(email=email).first()
    record(Event.Kind.RESTORED, request=request, user=who, about=f"of {made_at:%Y-%m-%d %H:%M}")
    messages.success(
        request,
        f"Restored as it was on {made_at:%d %b %Y at %H:%M}. What it replaced is kept among the "
        "backups. Sign in with the password of that time.",
    )
    return redirect("maker:sign_in")


@never_cache
@may_look_after
@require_safe
def move(request: Any) -> HttpResponse:
    """Say how to move to another computer."""
    return render(request, "maker/backup/move.html", {"version": VERSION})


def _copy_or_404(name: str) -> Copy:
    copy = copy_named(name)
    if copy is None:
        raise Http404("There is no backup of this name.")
    return copy
