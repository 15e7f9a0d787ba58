"""A long list of quantities as slow work: worked out by a worker, and kept for some days."""

from django.http import Http404, QueryDict

from catalogue.calc.cutting.job import CuttingJob, SheetPlan
from catalogue.sheet_plans.services import sheet_planner
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.slow_work.doing import Ending, Outcome, Watch
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work
from maker.workshop.models import Workshop
from pricing.costs.views import Question, question_of
from pricing.quantities.forms import QuantitiesForm
from pricing.quantities.services import QuantitiesQuestion, quantities_question, written_answer

# for all new cutting plans of a list; more of them are proven than in the time of a page
PLANNING_SECONDS = 30.0


class QuestionGone(Refusal):
    """The design or what was asked about it is not there any more."""


def values_of(question: Question, workshop: Workshop) -> QuantitiesQuestion:
    """Return the values behind a question whose form is valid."""
    form = question.form
    return quantities_question(
        version=question.version,
        workshop=workshop,
        ask=form.ask(),
        channel=form.chosen_channel(),
        colourway=form.chosen_colourway(),
        up_to=form.cleaned_data["up_to"],
    )


def ask_quantities(*, question: Question, values: QuantitiesQuestion, query: str, by: User) -> Work:
    """Let a worker work a list out; the same question again is the same work."""
    design = question.design
    return ask_work(
        workshop=design.workshop,
        kind=Work.Kind.FIGURES,
        title=f"{design.name}: prices of {values.up_to:,} quantities",
        doing=work_out_quantities,
        given={"design": design.pk, "query": query},
        came_from=question.address,
        by=by,
        form_key=values.key(),
        of=values.up_to,
    )


def work_out_quantities(work: Work, watch: Watch) -> Ending:
    """Work the list out; a question whose design changed meanwhile is left to be asked anew."""
    workshop, asked = work.workshop, QueryDict(work.given["query"])
    try:
        question = question_of(workshop, work.given["design"], asked, QuantitiesForm, "quantities")
    except Http404 as gone:
        raise QuestionGone("This design no longer exists.") from gone
    if not question.form.is_valid():
        raise QuestionGone("What was asked can't be read any more. Ask again on its page.")
    values = values_of(question, workshop)
    if values.key() != work.form_key:
        raise QuestionGone("The design or your rates have changed. Open Quantities again.")
    plan_sheets = sheet_planner(seconds=PLANNING_SECONDS)

    def plan_and_look(job: CuttingJob) -> SheetPlan:
        watch.look_again()
        return plan_sheets(job)

    answer = values.answer(plan_and_look, lambda all_: watch.each(all_, "Calculating quantities"))
    kept = written_answer(answer)
    return lambda: Outcome(kept=kept, leads_to=work.came_from, at_once=True)
