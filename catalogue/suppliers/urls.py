"""Addresses of the suppliers."""

from django.urls import path

from catalogue.suppliers import views

urlpatterns = [
    path("suppliers/", views.supplier_list, name="supplier_list"),
    path("suppliers/new/", views.supplier_new, name="supplier_new"),
    path("suppliers/<int:pk>/", views.supplier, name="supplier"),
    path("suppliers/<int:pk>/edit/", views.supplier_edit, name="supplier_edit"),
    path("suppliers/<int:pk>/put-away/", views.supplier_retire, name="supplier_retire"),
    path("suppliers/<int:pk>/bring-back/", views.supplier_restore, name="supplier_restore"),
]
