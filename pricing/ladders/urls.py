"""Addresses of the ladder pages."""

from django.urls import path

from pricing.ladders import views

urlpatterns = [
    path("designs/<int:pk>/ladder/", views.ladder, name="ladder"),
    path("designs/<int:pk>/ladder/publish/", views.ladder_publish, name="ladder_publish"),
    path("designs/<int:pk>/ladder/list.pdf", views.ladder_pdf, name="ladder_pdf"),
]
