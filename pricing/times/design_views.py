"""The timed minutes of a design beside its recipe, using them there, and correcting a run."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from catalogue.designs.models import Design
from catalogue.recipes.models import DesignVersion
from maker.web.access import WorkshopRequest, may_change, may_see, row_or_404
from maker.web.lists import whole_number
from maker.web.messages import undo_message
from maker.web.refusals import refusal_told
from maker.web.row_pages import Entry, entry_page
from pricing.times.drawing import timings_page
from pricing.times.forms import RunForm
from pricing.times.inputs import newest_steps
from pricing.times.models import TimedRun
from pricing.times.services import change_run
from pricing.times.standards import timings_of, use_timed_minutes
from pricing.times.views import run_or_404


@require_GET
@may_see
def design_times(request: WorkshopRequest, pk: int) -> HttpResponse:
    """What was timed of each step of the newest version, and the minutes it suggests."""
    workshop = request.workshop
    design = row_or_404(Design.objects.of(workshop), pk)
    versions = DesignVersion.objects.of(workshop).filter(design=design).newest_first()
    version = versions.with_recipe().first()
    if version is None:
        raise Http404("This design has no recipe.")
    recipe_url = reverse("catalogue:recipe", args=[workshop.slug, pk, version.number])
    context = {
        "design": design,
        "version": version,
        "recipe_url": recipe_url,
        "query": request.GET.urlencode(),
        "bench": f"{reverse('pricing:timer', args=[workshop.slug])}?design={pk}#steps",
        **timings_page(timings_of(version, workshop), workshop, recipe_url),
    }
    return render(request, "pricing/times/times.html", context)


@require_POST
@may_change
def design_times_use(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Write the suggested minutes of one step into the recipe, with the recipe's own way back."""
    workshop = request.workshop
    design = row_or_404(Design.objects.of(workshop), pk)
    step, number = request.POST.get("step", ""), whole_number(request.POST.get("version"), 0)
    edit_number = whole_number(request.POST.get("edit_number"), -1)
    with refusal_told(request, messages.WARNING):
        saved = use_timed_minutes(
            design=design,
            workshop=workshop,
            step_name=step,
            seen=request.POST.get("seen", ""),
            version_number=number,
            edit_number=edit_number,
            by=request.user,
        )
        way_back = {
            "workshop": workshop.slug,
            "design": pk,
            "number": saved.number,
            # the save it takes back: the last one of the version
            "edit_number": saved.edit_number - 1,
        }
        text = f"Updated the minutes of “{step}” in the recipe."
        if saved.number != number:
            text += f" They are in version {saved.number}, because version {number} is locked."
        undo_message(request, text, reverse("catalogue:recipe_undo", kwargs=way_back))
    return redirect("pricing:design_times", workshop.slug, pk)


@require_http_methods(["GET", "POST"])
@may_change
def timer_edit(request: WorkshopRequest, pk: int) -> HttpResponse:
    """Correct a counted run; the second of two people is told."""
    run = run_or_404(request, pk)
    if run.finished_at is None:
        messages.info(request, "This timer is still open. Finish it first.")
        return redirect("pricing:timer", request.workshop.slug)
    steps = newest_steps([run.design_id]).get(run.design_id, [])

    def entry_of(run: TimedRun, data: Any) -> Entry:
        return Entry(RunForm(data, run=run, steps=steps))

    def save(entry: Entry) -> HttpResponse:
        names = ("step_name", "minutes", "edit_number")
        typed = {name: entry.form.cleaned_data[name] for name in names} | entry.form.result()
        change_run(run=run, **typed)
        messages.success(request, f"Saved “{typed['step_name']}”.")
        return redirect("pricing:design_times", request.workshop.slug, run.design_id)

    return entry_page(request, "pricing/times/edit.html", run, entry_of, save, run=run)
