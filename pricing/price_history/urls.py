"""Addresses of the price history."""

from django.urls import path

from pricing.price_history import views

urlpatterns = [
    path("designs/<int:pk>/price-history/", views.design_history, name="design_history"),
    path("quotes/<int:pk>/price-history/", views.quote_history, name="quote_history"),
]
