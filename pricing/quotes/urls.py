"""Addresses of the quotes."""

from django.urls import path

from pricing.quotes import answer_views, beside_views, date_views, line_views, views

urlpatterns = [
    path("customers/<int:pk>/", views.customer, name="customer"),
    path("quotes/", views.quote_list, name="quote_list"),
    path("quotes/new/", views.quote_new, name="quote_new"),
    path("quotes/<int:pk>/", views.quote, name="quote"),
    path("quotes/<int:pk>/edit/", views.quote_edit, name="quote_edit"),
    path("quotes/<int:pk>/dates/", date_views.quote_dates, name="quote_dates"),
    path("quotes/<int:pk>/extras/", beside_views.quote_extras, name="quote_extras"),
    path("quotes/<int:pk>/delivery/", beside_views.quote_delivery, name="quote_delivery"),
    path("quotes/<int:pk>/totals/", views.quote_totals, name="quote_totals"),
    path("quotes/<int:pk>/throw-away/", views.quote_discard, name="quote_discard"),
    path("quotes/<int:pk>/bring-back/", views.quote_restore, name="quote_restore"),
    path("quotes/<int:pk>/seen/", views.quote_seen, name="quote_seen"),
    path("quotes/<int:pk>/quote.pdf", answer_views.quote_pdf, name="quote_pdf"),
    path("quotes/<int:pk>/own.pdf", answer_views.quote_own_pdf, name="quote_own_pdf"),
    path("quotes/<int:pk>/send/", answer_views.quote_send, name="quote_send"),
    path("quotes/<int:pk>/revise/", answer_views.quote_revise, name="quote_revise"),
    path("quotes/<int:pk>/same-again/", answer_views.quote_same_again, name="quote_same_again"),
    path("quotes/<int:pk>/decline/", answer_views.quote_decline, name="quote_decline"),
    path("quotes/<int:pk>/lines/new/", line_views.quote_line_new, name="quote_line_new"),
    path("quotes/<int:pk>/lines/<int:line>/", line_views.quote_line, name="quote_line"),
    path("quotes/<int:pk>/lines/price/", line_views.quote_line_price, name="quote_line_price"),
    path("quotes/<int:pk>/lines/steps/", line_views.quote_line_steps, name="quote_line_steps"),
    path(
        "quotes/<int:pk>/lines/<int:line>/remove/",
        line_views.quote_line_remove,
        name="quote_line_remove",
    ),
    path(
        "quotes/<int:pk>/lines/<int:line>/put-back/",
        line_views.quote_line_put_back,
        name="quote_line_put_back",
    ),
    path(
        "quotes/<int:pk>/lines/<int:line>/move/", line_views.quote_line_move, name="quote_line_move"
    ),
]
