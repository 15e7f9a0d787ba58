"""Addresses of the closed months."""

from django.urls import path

from pricing.closed_months import views

urlpatterns = [
    path("closed-months/", views.closed_months, name="closed_months"),
    path("closed-months/<int:year>/<int:month>/", views.closed_month, name="closed_month"),
    path("closed-months/close/", views.closed_months_close, name="closed_months_close"),
    path(
        "closed-months/<int:year>/<int:month>/reopen/",
        views.closed_month_reopen,
        name="closed_month_reopen",
    ),
]
