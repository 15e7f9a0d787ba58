"""Pages of overdue invoices and their reminders."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from maker.calc.refusal import Refusal
from maker.mail.models import mail_server
from maker.web.access import WorkshopRequest, may_change, may_see
from maker.web.refusals import show_refusal
from pricing.letters.forms import LetterForm
from pricing.orders.overdue import overdue_invoices, reminder_of, send_reminder
from pricing.orders.views import back_to, order_or_404, shop_money


@require_GET
@may_see
def overdue_list(request: WorkshopRequest) -> HttpResponse:
    """List invoices not paid by their date."""
    shop, today = request.workshop, timezone.localdate()
    rows = [
        (each, shop_money(shop, each.left), shop_money(shop, each.gone) if each.gone else "")
        for each in overdue_invoices(shop, today)
    ]
    return render(request, "pricing/orders/overdue.html", {"rows": rows})


@require_http_methods(["GET", "POST"])
@may_change
def invoice_remind(request: WorkshopRequest, pk: int, invoice: int) -> HttpResponse:
    """Show the reminder of an overdue invoice, and send it when asked to."""
    row, today, shop = order_or_404(request, pk), timezone.localdate(), request.workshop
    found = [each for each in overdue_invoices(shop, today) if each.invoice.pk == invoice]
    if not found:
        messages.info(request, "This invoice isn’t overdue.")
        return back_to(request, pk)
    overdue = found[0]
    form = LetterForm(request.POST or None, initial=reminder_of(overdue, shop))
    form.fields["text"].help_text = "Change what you like. Nothing is sent until you do."
    if request.method == "POST" and form.is_valid():
        try:
            send_reminder(invoice=overdue.invoice, today=today, **form.cleaned_data)
        except Refusal as refusal:
            show_refusal(form, refusal)
        else:
            to = form.cleaned_data["to"]
            text = f"Sent the reminder to {to}."
            if mail_server() is None:
                text = f"Wrote the reminder to {to} into the mail folder: no server is set up."
            messages.success(request, text)
            return redirect("pricing:overdue_list", shop.slug)
    context = {
        "order": row,
        "overdue": overdue,
        "amount": shop_money(shop, overdue.left),
        "form": form,
        "has_server": mail_server() is not None,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "pricing/orders/reminder.html", context, status=status)
