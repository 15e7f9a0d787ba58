"""Addresses of the page that says how sure a price is."""

from django.urls import path

from pricing.bands import views

urlpatterns = [path("designs/<int:pk>/sure/", views.band, name="band")]
