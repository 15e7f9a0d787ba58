"""Addresses of the pages that say why a price changed."""

from django.urls import path

from pricing.bridges import views

urlpatterns = [
    path("designs/<int:pk>/bridge/", views.bridge, name="bridge"),
    path("quotes/<int:pk>/bridge/", views.quote_bridge, name="quote_bridge"),
]
