"""Addresses of workshops as files, of the examples and of deleting."""

from django.urls import path

from pricing.workshop_file import views

urlpatterns = [
    path("workshops/examples/load/", views.demo_load, name="demo_load"),
    path("workshops/examples/remove/", views.demo_remove, name="demo_remove"),
    path("workshops/import/", views.workshop_import, name="workshop_import"),
    path("account/delete/", views.account_delete, name="account_delete"),
    path("account/keep/", views.account_keep, name="account_keep"),
    path("w/<slug:workshop>/settings/file/", views.workshop_file, name="workshop_file"),
    path("w/<slug:workshop>/settings/file/export/", views.workshop_export, name="workshop_export"),
    path("w/<slug:workshop>/settings/delete/", views.workshop_delete, name="workshop_delete"),
    path("w/<slug:workshop>/settings/keep/", views.workshop_keep, name="workshop_keep"),
]
