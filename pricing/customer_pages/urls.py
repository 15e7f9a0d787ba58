"""Addresses of links: the maker's inside a workshop, the customer's outside."""

from django.urls import path

from pricing.customer_pages import public_views, views

urlpatterns = [
    path("quotes/<int:pk>/links/new/", views.link_new, name="quote_link_new"),
    path("quotes/<int:pk>/links/<int:link>/send/", views.link_send, name="quote_link_send"),
    path("quotes/<int:pk>/links/<int:link>/revoke/", views.link_revoke, name="quote_link_revoke"),
    path(
        "quotes/<int:pk>/messages/<int:message>/read/",
        views.message_read,
        name="quote_message_read",
    ),
]
# the key is in the query, which no line of the log holds
for_customers = [
    path("customer/quote/", public_views.customer_quote, name="customer_quote"),
    path("customer/quote/pdf/", public_views.customer_quote_pdf, name="customer_quote_pdf"),
]
