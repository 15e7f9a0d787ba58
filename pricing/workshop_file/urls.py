"""Addresses outside any workshop: the examples."""

from django.urls import path

from pricing.workshop_file import views

urlpatterns = [
    path("workshops/examples/load/", views.demo_load, name="demo_load"),
    path("workshops/examples/remove/", views.demo_remove, name="demo_remove"),
]
