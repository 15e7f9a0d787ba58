"""Cutting plans that wait or are worked on, for the list of all slow work."""

from django.urls import reverse

from catalogue.cutting_plans.models import CuttingPlan
from maker.slow_work.showing import Entry
from maker.workshop.models import Workshop


def plans_under_way(workshop: Workshop) -> list[Entry]:
    """Return the plans of a workshop that are not ready yet (one query)."""
    plans = CuttingPlan.objects.of(workshop).under_way().in_short().select_related("asked_by")
    return [
        Entry(
            title=f"Cutting plan: {plan.name}",
            address=reverse("catalogue:plan", args=[workshop.slug, plan.pk]),
            state="stopping" if plan.cancel_asked else plan.get_state_display(),
            is_bad=False,
            asked_at=plan.asked_at,
            asked_by=str(plan.asked_by or ""),
            share=f"{plan.percent}%" if plan.state == CuttingPlan.State.WORKING else "",
        )
        for plan in plans.newest_first()
    ]
