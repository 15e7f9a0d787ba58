"""Letters in the settings: their texts, changed and put back."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from maker.calc.refusal import Refusal
from maker.web.access import WorkshopRequest, may_own
from maker.web.refusals import show_refusal
from pricing.letters.forms import LetterTextForm
from pricing.letters.models import Letter
from pricing.letters.services import KINDS, letter_of, reset_letter, save_letter


@may_own
@require_GET
def letter_list(request: WorkshopRequest) -> HttpResponse:
    """Show every kind of letter."""
    own = set(Letter.objects.of(request.workshop).values_list("kind", flat=True))
    kinds = [(kind, kind.value in own) for kind in Letter.Kind]
    return render(request, "pricing/letters/list.html", {"kinds": kinds})


@may_own
@require_http_methods(["GET", "POST"])
def letter_edit(request: WorkshopRequest, kind: str) -> HttpResponse:
    """Change the text of one kind."""
    if kind not in Letter.Kind:
        raise Http404("There is no such letter.")
    chosen, shop = Letter.Kind(kind), request.workshop
    if "reset" in request.POST:
        reset_letter(workshop=shop, kind=chosen)
        messages.success(request, "The letter has its first text again.")
        return redirect("pricing:letter_edit", shop.slug, kind)
    subject, text = letter_of(shop, chosen)
    form = LetterTextForm(request.POST or None, initial={"subject": subject, "text": text})
    if request.method == "POST" and form.is_valid():
        try:
            save_letter(workshop=shop, kind=chosen, **form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, "Saved the letter.")
            return redirect("pricing:letter_list", shop.slug)
    known = KINDS[chosen]
    context = {
        "form": form,
        "kind": chosen,
        "placeholders": [
            (f"{{{name}}}", about, name in known.needed)
            for name, about in known.placeholders.items()
        ],
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/letters/edit.html", context, status=status)
