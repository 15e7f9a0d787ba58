"""Papers of long cutting plans as slow work: drawn by a worker and kept for some days."""

import uuid

from django.utils.text import slugify

from catalogue.cutting_plans.drawing import PlanPages, plan_pages
from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.printing import plan_pdf_of, refuse_too_many
from catalogue.cutting_plans.stored import read_groups, read_plans
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.slow_work.doing import Ending, File, Outcome, Watch
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work, key_of
from maker.web.lists import count_text
from maker.workshop.models import Workshop

# as many as are drawn within about a second on a small machine
MOST_LAYOUTS_AT_ONCE = 8


class PlanGone(Refusal):
    """The plan is gone, or it is being worked on."""


def pages_of(plan: CuttingPlan, workshop: Workshop) -> PlanPages:
    """Return the pages of a plan that is there."""
    groups = read_groups(plan.jobs)
    is_stopped = plan.state == CuttingPlan.State.CANCELLED
    return plan_pages(groups, read_plans(plan.plans, groups), workshop, is_stopped=is_stopped)


def file_name(plan: CuttingPlan) -> str:
    """Return what the paper of a plan is called."""
    return f"cutting-plan-{slugify(plan.name)[:60] or plan.pk}.pdf"


def ask_paper(*, plan: CuttingPlan, pages: PlanPages, by: User, came_from: str) -> Work:
    """Let a worker draw a long plan; asked again while nothing of it changed, it is the same work.

    Refusals: TooManyLayouts, and those of `ask_work`.
    """
    refuse_too_many(pages)
    workshop = pages.workshop
    return ask_work(
        workshop=workshop,
        kind=Work.Kind.PDF,
        title=f"{plan.name}: {count_text(pages.layout_count, 'layout')} for the bench",
        doing=make_paper,
        given={"plan": plan.pk},
        came_from=came_from,
        by=by,
        form_key=_key_of(plan, workshop),
        of=pages.layout_count,
    )


def _key_of(plan: CuttingPlan, workshop: Workshop) -> uuid.UUID:
    """Return a key that changes with all that the paper shows."""
    units = [workshop.locale, workshop.currency, workshop.unit, workshop.name]
    return key_of("paper of a plan", plan.pk, plan.name, plan.plans, plan.state, units)


def make_paper(work: Work, watch: Watch) -> Ending:
    """Draw the layouts, then the pages."""
    plan = CuttingPlan.objects.of(work.workshop).filter(pk=work.given["plan"]).first()
    if plan is None or plan.plans is None:
        raise PlanGone("This cutting plan isn't there any more.")
    pages = pages_of(plan, work.workshop)
    count = pages.layout_count
    pdf = plan_pdf_of(
        plan,
        pages,
        on_layout=lambda number: watch.look(number, count, "Drawing layouts"),
        on_page=lambda page: watch.look(min(page, count), count, "Laying out pages"),
    )
    file = File(file_name(plan), "application/pdf", pdf)
    return lambda: Outcome(says=[("success", "The paper for the bench is ready.")], file=file)
