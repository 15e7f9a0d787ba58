"""Addresses of the what-if page."""

from django.urls import path

from pricing.what_ifs import views

urlpatterns = [
    path("designs/<int:pk>/what-if/", views.what_if, name="what_if"),
    path("designs/<int:pk>/what-if/ways/", views.what_if_ways, name="what_if_ways"),
]
