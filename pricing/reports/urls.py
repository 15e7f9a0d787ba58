"""Addresses of the report of what was spent."""

from django.urls import path

from pricing.reports import views

urlpatterns = [
    path("spend/", views.spend, name="spend"),
    path("spend/budget/", views.spend_budget, name="spend_budget"),
    path("spend/<int:year>/<int:month>/", views.spend_month, name="spend_month"),
]
