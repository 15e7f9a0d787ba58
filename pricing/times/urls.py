"""Addresses of the timer and of a design's times."""

from django.urls import path

from pricing.times import design_views, views

urlpatterns = [
    path("timer/", views.timer, name="timer"),
    path("timer/start/", views.timer_start, name="timer_start"),
    path("timer/designs/<int:pk>/enter/", views.timer_enter, name="timer_enter"),
    path("timer/<int:pk>/", design_views.timer_edit, name="timer_edit"),
    path("timer/<int:pk>/stop/", views.timer_stop, name="timer_stop"),
    path("timer/<int:pk>/go-on/", views.timer_go_on, name="timer_go_on"),
    path("timer/<int:pk>/count/", views.timer_count, name="timer_count"),
    path("timer/<int:pk>/reopen/", views.timer_reopen, name="timer_reopen"),
    path("timer/<int:pk>/leave-out/", views.timer_leave_out, name="timer_leave_out"),
    path("timer/<int:pk>/take-in/", views.timer_take_in, name="timer_take_in"),
    path("designs/<int:pk>/times/", design_views.design_times, name="design_times"),
    path("designs/<int:pk>/times/use/", design_views.design_times_use, name="design_times_use"),
]
