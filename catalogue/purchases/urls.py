"""Addresses of the receipts."""

from django.urls import path

from catalogue.purchases import views

urlpatterns = [
    path("receipts/", views.purchase_list, name="purchase_list"),
    path("receipts/new/", views.purchase_new, name="purchase_new"),
    path("receipts/import/", views.purchase_import, name="purchase_import"),
    path(
        "receipts/import/<uuid:key>/undo/", views.purchase_import_undo, name="purchase_import_undo"
    ),
    path("receipts/<int:pk>/", views.purchase, name="purchase"),
    path("receipts/<int:pk>/edit/", views.purchase_edit, name="purchase_edit"),
    path("receipts/<int:pk>/files/", views.purchase_files, name="purchase_files"),
    path("receipts/<int:pk>/record/", views.purchase_record, name="purchase_record"),
    path("receipts/<int:pk>/take-back/", views.purchase_reverse, name="purchase_reverse"),
    path("receipts/<int:pk>/throw-away/", views.purchase_discard, name="purchase_discard"),
    path("receipts/<int:pk>/bring-back/", views.purchase_restore, name="purchase_restore"),
    path("receipt-lines/<int:pk>/", views.purchase_line, name="purchase_line"),
]
