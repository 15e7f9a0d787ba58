"""Addresses of the page that says how sure a price is."""

from django.urls import path

from pricing.price_range import views

urlpatterns = [path("designs/<int:pk>/range/", views.design_range, name="design_range")]
