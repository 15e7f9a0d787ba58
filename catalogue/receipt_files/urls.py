"""Addresses of the photos and PDFs of receipts and expenses."""

from django.urls import path

from catalogue.receipt_files import views

urlpatterns = [
    path("receipt-files/<int:pk>/remove/", views.receipt_file_remove, name="receipt_file_remove"),
    path(
        "receipt-files/<int:pk>/put-back/",
        views.receipt_file_put_back,
        name="receipt_file_put_back",
    ),
]
