"""Addresses of the price tag pages."""

from django.urls import path

from pricing.price_tags import views

urlpatterns = [
    path("tags/", views.tag_sheet, name="tag_sheet"),
    path("tags/sheets/new/", views.tag_label_sheet_new, name="tag_label_sheet_new"),
    path("tags/sheets/<int:pk>/", views.tag_label_sheet, name="tag_label_sheet"),
    path(
        "tags/sheets/<int:pk>/retire/", views.tag_label_sheet_retire, name="tag_label_sheet_retire"
    ),
    path(
        "tags/sheets/<int:pk>/restore/",
        views.tag_label_sheet_restore,
        name="tag_label_sheet_restore",
    ),
]
