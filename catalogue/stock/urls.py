"""Addresses of the stock ledger; the ledger itself is on the page of its material."""

from django.urls import path

from catalogue.stock import one_views, views

urlpatterns = [
    path("materials/<int:pk>/stock/", views.stock_move, name="stock_move"),
    path("materials/<int:pk>/movements/", views.stock_export, name="stock_export"),
    path("stock/count/", views.stock_count, name="stock_count"),
    path("stock/count/each/", one_views.stock_count_each, name="stock_count_each"),
    path("stock/count/<uuid:key>/", views.stock_counted, name="stock_counted"),
    path(
        "stock/count/<uuid:key>/take-back/",
        views.stock_count_reverse,
        name="stock_count_reverse",
    ),
    path("stock/<int:pk>/take-back/", views.stock_reverse, name="stock_reverse"),
]
