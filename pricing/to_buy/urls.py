"""Addresses of what to buy."""

from django.urls import path

from pricing.to_buy import views

urlpatterns = [
    path("to-buy/", views.to_buy, name="to_buy"),
    path("to-buy/slow/", views.slow_list, name="slow_list"),
    path("to-buy/<int:pk>/draft/", views.to_buy_draft, name="to_buy_draft"),
]
