"""Addresses of the bench sheets."""

from django.urls import path

from pricing.bench_sheets import views

urlpatterns = [
    path("designs/<int:pk>/bench-sheet.pdf", views.bench_sheet, name="bench_sheet"),
    path("orders/<int:pk>/bench-sheet.pdf", views.order_bench_sheet, name="order_bench_sheet"),
    path("orders/<int:pk>/names.pdf", views.order_names_paper, name="order_names_paper"),
    path("cutting-plans/<int:pk>/bench-sheet.pdf", views.plan_bench_sheet, name="plan_bench_sheet"),
]
