"""Addresses of the letters."""

from django.urls import path

from pricing.letters import views

urlpatterns = [
    path("settings/letters/", views.letter_list, name="letter_list"),
    path("settings/letters/<slug:kind>/", views.letter_edit, name="letter_edit"),
]
