"""Addresses of the table at a fair; the worker that keeps its page lies at the root."""

from django.urls import path

from pricing.fair_sales import after_views, views

DAY = "fairs/<int:pk>/days/<int:day>/"
urlpatterns = [
    path(f"{DAY}open/", views.fair_day_open, name="fair_day_open"),
    path(f"{DAY}open/undo/", views.fair_day_open_undo, name="fair_day_open_undo"),
    path(f"{DAY}table/", views.fair_table, name="fair_table"),
    path(f"{DAY}table/send/", views.fair_table_send, name="fair_table_send"),
    path(f"{DAY}tally.pdf", after_views.fair_tally, name="fair_tally"),
    path(f"{DAY}paper/", after_views.fair_paper, name="fair_paper"),
    path(f"{DAY}count/", after_views.fair_count, name="fair_count"),
    path(f"{DAY}count/book/", after_views.fair_count_book, name="fair_count_book"),
    path(f"{DAY}sales/", after_views.fair_day_sales, name="fair_day_sales"),
    path(f"{DAY}sales/<int:sale>/undo/", after_views.fair_sale_undo, name="fair_sale_undo"),
    path(
        f"{DAY}sales/<int:sale>/restore/", after_views.fair_sale_restore, name="fair_sale_restore"
    ),
    path(f"{DAY}sales/<int:sale>/settle/", after_views.fair_sale_settle, name="fair_sale_settle"),
]
for_phones = [path("sw.js", views.fair_table_worker, name="fair_table_worker")]
