"""Addresses of the making of an order."""

from django.urls import path

from pricing.making import after_views, batch_views, views

urlpatterns = [
    path("orders/<int:pk>/after/", after_views.order_after, name="order_after"),
    path(
        "orders/<int:pk>/after/designs/<int:design>/",
        after_views.order_after_use,
        name="order_after_use",
    ),
    path("orders/<int:pk>/making/", views.order_making, name="order_making"),
    path("orders/<int:pk>/making/plan/", views.order_plan_new, name="order_plan_new"),
    path(
        "orders/<int:pk>/making/lines/<int:line>/",
        batch_views.order_batch_new,
        name="order_batch_new",
    ),
    path(
        "orders/<int:pk>/making/batches/<int:batch>/undo/",
        batch_views.order_batch_undo,
        name="order_batch_undo",
    ),
    path(
        "orders/<int:pk>/making/batches/<int:batch>/timer/",
        batch_views.order_batch_timer,
        name="order_batch_timer",
    ),
]
