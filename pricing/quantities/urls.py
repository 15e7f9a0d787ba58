"""Addresses of the prices of every quantity."""

from django.urls import path

from pricing.quantities import views

urlpatterns = [
    path("designs/<int:pk>/quantities/", views.quantities, name="quantities"),
    path(
        "designs/<int:pk>/quantities/publish/", views.quantities_publish, name="quantities_publish"
    ),
    path("designs/<int:pk>/quantities/list.pdf", views.quantities_pdf, name="quantities_pdf"),
]
