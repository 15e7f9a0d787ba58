"""Addresses of the bench and of a design's timed minutes."""

from django.urls import path

from pricing.timings import design_views, views

urlpatterns = [
    path("bench/", views.bench, name="bench"),
    path("bench/start/", views.bench_start, name="bench_start"),
    path("bench/designs/<int:pk>/enter/", views.bench_enter, name="bench_enter"),
    path("bench/<int:pk>/", design_views.bench_edit, name="bench_edit"),
    path("bench/<int:pk>/stop/", views.bench_stop, name="bench_stop"),
    path("bench/<int:pk>/go-on/", views.bench_go_on, name="bench_go_on"),
    path("bench/<int:pk>/count/", views.bench_count, name="bench_count"),
    path("bench/<int:pk>/reopen/", views.bench_reopen, name="bench_reopen"),
    path("bench/<int:pk>/leave-out/", views.bench_leave_out, name="bench_leave_out"),
    path("bench/<int:pk>/take-in/", views.bench_take_in, name="bench_take_in"),
    path("designs/<int:pk>/timings/", design_views.timings, name="timings"),
    path("designs/<int:pk>/timings/use/", design_views.timing_use, name="timing_use"),
]
