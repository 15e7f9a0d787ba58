"""Addresses of the stock ledger; the ledger itself is on the page of its material."""

from django.urls import path

from catalogue.stock import views

urlpatterns = [
    path("materials/<int:pk>/stock/", views.stock_move, name="stock_move"),
    path("materials/<int:pk>/movements/", views.stock_export, name="stock_export"),
    path("stock/<int:pk>/take-back/", views.stock_reverse, name="stock_reverse"),
]
