"""Addresses of the customers."""

from django.urls import path

from pricing.customers import views

urlpatterns = [
    path("customers/", views.customer_list, name="customer_list"),
    path("customers/new/", views.customer_new, name="customer_new"),
    path("customers/<int:pk>/edit/", views.customer_edit, name="customer_edit"),
    path("customers/<int:pk>/put-away/", views.customer_retire, name="customer_retire"),
    path("customers/<int:pk>/bring-back/", views.customer_restore, name="customer_restore"),
]
