"""Addresses of finished stock."""

from django.urls import path

from pricing.finished_stock import batch_views, views

urlpatterns = [
    path("finished/", views.finished_list, name="finished_list"),
    path("finished/count/", views.finished_count, name="finished_count"),
    path("finished/<int:pk>/", views.finished_item, name="finished_item"),
    path("finished/<int:pk>/move/", views.finished_move, name="finished_move"),
    path("finished/moves/<int:pk>/undo/", views.finished_move_undo, name="finished_move_undo"),
    path("finished/batches/new/", batch_views.finished_batch_new, name="finished_batch_new"),
    path(
        "finished/batches/<int:pk>/finish/",
        batch_views.finished_batch_finish,
        name="finished_batch_finish",
    ),
    path(
        "finished/batches/<int:pk>/undo/",
        batch_views.finished_batch_undo,
        name="finished_batch_undo",
    ),
    path(
        "finished/batches/<int:pk>/revalue/",
        batch_views.finished_batch_revalue,
        name="finished_batch_revalue",
    ),
]
