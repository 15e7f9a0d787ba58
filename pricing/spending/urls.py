"""Addresses of the spending pages."""

from django.urls import path

from pricing.spending import views

urlpatterns = [
    path("spending/", views.spending, name="spending"),
    path("spending/orders-and-fairs/", views.spending_owners, name="spending_owners"),
    path("spending/budget/", views.spending_budget, name="spending_budget"),
    path("spending/<int:year>/<int:month>/", views.spending_month, name="spending_month"),
]
