"""Address of the price board."""

from django.urls import path

from pricing.price_boards import views

urlpatterns = [path("prices/board.pdf", views.price_board, name="price_board")]
