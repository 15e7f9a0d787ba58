"""What is typed at the bench: what came out, minutes of a run, which design."""

from collections.abc import Sequence
from typing import Any

from django import forms

from catalogue.designs.models import Design
from catalogue.recipes.models import Step
from maker.web.editing import EditedForm
from maker.web.fields import DayField, MinutesField, OneLineField, WholeNumberField
from maker.web.rows import ChosenRowField, rows_by_key
from pricing.times.models import TimedRun
from pricing.times.services import minutes_of

MOST_PIECES = 1_000_000
# 100 hours: more is a watch that was forgotten
MOST_MINUTES = 6_000
Basis = Step.Basis

# what is counted at the end, by what the step is counted by
COUNTED = {
    Basis.JOB: "Jobs",
    Basis.BATCH: "Batches",
    Basis.SHEET: "Sheets cut",
    Basis.PASS: "Die passes",
    Basis.CARTON: "Cartons",
    Basis.NAME: "Names",
}
CAME_OUT = "Items made"


class DesignChoice(forms.Form):
    """Which design is on the bench; sent by GET."""

    use_required_attribute = False
    design = ChosenRowField(label="Design", empty_label="Choose", required=False)

    def __init__(self, *args: Any, designs: Sequence[Design], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["design"].use_rows(rows_by_key(designs))  # type: ignore[attr-defined]


class ResultForm(forms.Form):
    """What came out of a run."""

    use_required_attribute = False
    count = WholeNumberField(label=CAME_OUT, at_least=1, at_most=MOST_PIECES)
    rejects = WholeNumberField(
        label="Spoiled", required=False, at_most=MOST_PIECES, help_text="Leave blank for none."
    )
    note = OneLineField(required=False, max_length=200, help_text="Anything different this time?")

    def ask_for(self, basis: str) -> None:
        """Ask for what the step is counted by; a job done is one job unless she says otherwise."""
        self.fields["count"].label = COUNTED.get(Basis(basis), CAME_OUT)
        if basis == Basis.JOB:
            self.fields["count"].initial = 1

    def clean(self) -> dict[str, Any]:
        """See that no more are no good than came out."""
        cleaned: dict[str, Any] = super().clean() or {}
        count, rejects = cleaned.get("count"), cleaned.get("rejects")
        if count is not None and rejects is not None and rejects > count:
            self.add_error("rejects", f"You only made {count}.")
        return cleaned

    def result(self) -> dict[str, Any]:
        """Return what services take."""
        typed = self.cleaned_data
        return {"count": typed["count"], "rejects": typed["rejects"] or 0, "note": typed["note"]}


def _minutes(**options: Any) -> MinutesField:
    return MinutesField(at_most=MOST_MINUTES, decimals=2, **options)


class CountForm(ResultForm):
    """The end of a watched run."""

    minutes = _minutes(
        label="Minutes worked",
        required=False,
        above_zero=True,
        help_text="Only if the timer is wrong. Leave blank to use it.",
    )
    field_order = ("count", "rejects", "minutes", "note")


class EnterForm(ResultForm):
    """A run that was timed without the watch."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    step_name = forms.ChoiceField(label="Step")
    minutes = _minutes(label="Minutes worked", above_zero=True)
    done_on = DayField(label="Date")
    field_order = ("form_key", "step_name", "minutes", "count", "rejects", "done_on", "note")

    def __init__(self, *args: Any, steps: Sequence[Step], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["step_name"].choices = [  # type: ignore[attr-defined]
            ("", "Choose"),
            *((step.name, f"{step.name}, {step.get_basis_display()}") for step in steps),
        ]


class RunForm(EditedForm, ResultForm):
    """A counted run, to be corrected."""

    step_name = forms.ChoiceField(label="Step")
    minutes = _minutes(label="Minutes worked", above_zero=True)
    field_order = ("step_name", "minutes", "count", "rejects", "note", "edit_number")

    def __init__(self, *args: Any, run: TimedRun, steps: Sequence[Step], **options: Any) -> None:
        super().__init__(
            *args,
            initial={
                "step_name": run.step_name,
                "minutes": minutes_of(run),
                "count": run.count,
                "rejects": run.rejects or "",
                "note": run.note,
                "edit_number": run.edit_number,
            },
            **options,
        )
        names = [step.name for step in steps]
        kept = [] if run.step_name in names else [run.step_name]
        self.fields["step_name"].choices = [(name, name) for name in [*kept, *names]]  # type: ignore[attr-defined]
        self.ask_for(run.basis)
