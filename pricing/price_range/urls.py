"""Addresses of the range of a price."""

from django.urls import path

from pricing.price_range import views

urlpatterns = [path("designs/<int:pk>/range/", views.design_range, name="design_range")]
