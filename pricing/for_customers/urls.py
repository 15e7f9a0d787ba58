"""Addresses of the price explained for a customer."""

from django.urls import path

from pricing.for_customers import views

urlpatterns = [
    path("designs/<int:pk>/for-customers/", views.for_customer, name="for_customer"),
    path(
        "designs/<int:pk>/for-customers/price.pdf", views.for_customer_pdf, name="for_customer_pdf"
    ),
]
