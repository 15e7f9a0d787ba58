"""Addresses of the price list."""

from django.urls import path

from pricing.prices import views

urlpatterns = [
    path("prices/", views.price_list, name="price_list"),
    path("designs/<int:pk>/price/", views.price_set, name="price_set"),
    path("prices/<int:pk>/remove/", views.price_remove, name="price_remove"),
    path("prices/<int:pk>/restore/", views.price_restore, name="price_restore"),
]
