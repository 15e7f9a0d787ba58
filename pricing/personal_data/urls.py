"""Addresses of a customer's data."""

from django.urls import path

from pricing.personal_data import views

urlpatterns = [
    path("customers/<int:pk>/data/", views.customer_data, name="customer_data"),
    path("customers/<int:pk>/erase/", views.customer_erase, name="customer_erase"),
]
