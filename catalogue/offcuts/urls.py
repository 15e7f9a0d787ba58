"""Addresses of the offcuts box."""

from django.urls import path

from catalogue.offcuts import views

urlpatterns = [
    path("offcuts/", views.offcut_list, name="offcut_list"),
    path("offcuts/new/", views.offcut_new, name="offcut_new"),
    path("offcuts/<int:pk>/", views.offcut, name="offcut"),
    path("offcuts/entries/<int:pk>/take-back/", views.offcut_reverse, name="offcut_reverse"),
]
