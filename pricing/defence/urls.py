"""Addresses of the price explained for a customer."""

from django.urls import path

from pricing.defence import views

urlpatterns = [
    path("designs/<int:pk>/defence/", views.defence, name="defence"),
    path("designs/<int:pk>/defence/price.pdf", views.defence_print, name="defence_pdf"),
]
