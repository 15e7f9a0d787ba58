"""Addresses of the page that lays channels side by side."""

from django.urls import path

from pricing.comparisons import views

urlpatterns = [path("designs/<int:pk>/channels/", views.comparison, name="comparison")]
