"""The bench: watches that run, what can be started, and what was timed lately."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.designs.models import Design
from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told, show_refusal
from pricing.times.drawing import recent_pairs, run_text, step_buttons, watch_rows
from pricing.times.forms import CountForm, DesignChoice, EnterForm
from pricing.times.inputs import newest_steps
from pricing.times.models import TimedRun
from pricing.times.services import (
    AlreadyTimed,
    enter_run,
    finish_run,
    go_on,
    leave_out,
    reopen_run,
    start_run,
    stop_run,
    take_in,
)

LATELY = 10
# how far back it is looked for what she does most
REMEMBERED = 60


def to_bench(request: WorkshopRequest) -> HttpResponse:
    """Go back to the bench."""
    return redirect("pricing:timer", request.workshop.slug)


def run_or_404(request: WorkshopRequest, pk: int) -> TimedRun:
    """Return a run of this workshop with its design."""
    return row_or_404(TimedRun.objects.of(request.workshop).with_names(), pk)


def say_undo(request: WorkshopRequest, text: str, way_back: str, run: TimedRun) -> None:
    """Say what was done, with a button that takes it back."""
    undo_message(
        request, text, reverse(f"pricing:{way_back}", args=[request.workshop.slug, run.pk])
    )


def parsed_key(text: str) -> uuid.UUID | None:
    """Return the key of a form that was sent, or nothing of it."""
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


@require_GET
@may_see
def timer(request: WorkshopRequest) -> HttpResponse:
    """Show the watches, the steps of the design in the address, and what was timed lately."""
    workshop, now = request.workshop, timezone.now()
    runs = TimedRun.objects.of(workshop).with_names()
    designs = list(Design.objects.of(workshop).in_use().by_name())
    form = DesignChoice(request.GET or None, designs=designs)
    chosen = form.cleaned_data["design"] if form.is_valid() else None
    lately = list(runs.finished().newest_first()[:REMEMBERED])
    under_way = list(runs.under_way().newest_first())
    steps = newest_steps({run.design_id for run in lately} | ({chosen.pk} if chosen else set()))
    context: dict[str, Any] = {
        "watches": watch_rows(under_way, now),
        "choice": form,
        "chosen": chosen,
        "steps": step_buttons(
            steps.get(chosen.pk, []) if chosen else [], workshop, request.GET.get("step", "")
        ),
        "recent": [(run, uuid.uuid4()) for run in recent_pairs(lately, steps, but=under_way)],
        "form_key": uuid.uuid4(),
        "lately": [{"run": run, "text": run_text(run, workshop)} for run in lately[:LATELY]],
        "has_designs": bool(designs),
    }
    return render(request, "pricing/times/timer.html", context)


@require_POST
@may_change
def timer_start(request: WorkshopRequest) -> HttpResponse:
    """Start a watch; a second click starts no second one."""
    text = request.POST.get("design", "")
    pk = int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
    design = row_or_404(Design.objects.of(request.workshop).in_use(), pk)
    try:
        start_run(
            design=design,
            step_name=request.POST.get("step", "")[:200],
            by=request.user,
            now=timezone.now(),
            form_key=parsed_key(request.POST.get("form_key", "")),
        )
    except AlreadyTimed:
        messages.info(request, "This timer was already started.")
    except Refusal as refusal:
        messages.error(request, refusal.message)
    return to_bench(request)


@require_POST
@may_change
def timer_stop(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Stop a watch; `then=count` goes on to say what came out."""
    run = run_or_404(request, pk)
    is_counting = request.POST.get("then") == "count"
    try:
        stop_run(run=run, now=timezone.now())
    except Refusal as refusal:
        # to be counted it only has to stand
        if not is_counting:
            messages.info(request, refusal.message)
    if is_counting:
        return redirect("pricing:timer_count", request.workshop.slug, pk)
    return to_bench(request)


@require_POST
@may_change
def timer_go_on(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Go on with a stopped run."""
    with refusal_told(request, messages.INFO):
        go_on(run=run_or_404(request, pk), by=request.user, now=timezone.now())
    return to_bench(request)


@require_http_methods(["GET", "POST"])
@may_change
def timer_count(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Say how many came out; the run is then done, with a way back."""
    run, now = run_or_404(request, pk), timezone.now()
    if run.finished_at is not None or run.is_left_out:
        messages.info(request, "This timer is no longer open.")
        return to_bench(request)
    first = {"count": run.count, "rejects": run.rejects or "", "note": run.note}
    form = CountForm(request.POST or None, initial={k: v for k, v in first.items() if v})
    form.ask_for(run.basis)
    if request.method == "POST" and form.is_valid():
        try:
            done = finish_run(
                run=run, now=now, minutes=form.cleaned_data["minutes"], **form.result()
            )
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            text = f"{run.step_name}: {run_text(done, request.workshop)}."
            say_undo(request, text, "timer_reopen", run)
            return to_bench(request)
    context = {"form": form, "watch": watch_rows([run], now)[0], "run": run}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/times/count.html", context, status=status)


@require_POST
@may_change
def timer_reopen(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Take the counting of a run back."""
    with refusal_told(request, messages.INFO):
        reopen_run(run=run_or_404(request, pk))
        messages.success(request, "The timer is open again, stopped. Resume or finish it.")
    return to_bench(request)


@require_POST
@may_change
def timer_leave_out(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Let a run count for nothing, with a way back."""
    run = run_or_404(request, pk)
    with refusal_told(request, messages.INFO):
        leave_out(run=run, now=timezone.now())
        done = "Excluded" if run.finished_at else "Deleted timer"
        say_undo(request, f"{done}: {run.step_name}.", "timer_take_in", run)
    return _after(request, run)


@require_POST
@may_change
def timer_take_in(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Let a run count again, or bring one back to the bench."""
    run = run_or_404(request, pk)
    with refusal_told(request, messages.INFO):
        take_in(run=run)
        messages.success(request, f"Restored “{run.step_name}”.")
    return _after(request, run)


def _after(request: WorkshopRequest, run: TimedRun) -> HttpResponse:
    """Go where the run is seen: the bench, or the timed minutes of its design."""
    if run.finished_at is None:
        return to_bench(request)
    return redirect("pricing:design_times", request.workshop.slug, run.design_id)


@require_http_methods(["GET", "POST"])
@may_change
def timer_enter(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Type in a run of a design that was timed without the watch."""
    design = row_or_404(Design.objects.of(request.workshop), pk)
    now = timezone.now()
    first = {
        "step_name": request.GET.get("step", ""),
        "form_key": uuid.uuid4(),
        "done_on": timezone.localdate(now),
    }
    steps = newest_steps([pk]).get(pk, [])
    form = EnterForm(request.POST or None, initial=first, steps=steps)
    if request.method == "POST" and form.is_valid():
        names = ("step_name", "minutes", "done_on", "form_key")
        typed = {name: form.cleaned_data[name] for name in names} | form.result()
        try:
            run = enter_run(design=design, by=request.user, now=now, **typed)
        except AlreadyTimed as already:
            messages.info(request, already.message)
            return redirect("pricing:design_times", request.workshop.slug, pk)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            text = f"{run.step_name}: {run_text(run, request.workshop)}."
            say_undo(request, text, "timer_leave_out", run)
            return redirect("pricing:design_times", request.workshop.slug, pk)
    context = {"form": form, "design": design}
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/times/enter.html", context, status=status)
