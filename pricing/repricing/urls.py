"""Addresses of the pages that keep prices true."""

from django.urls import path

from pricing.repricing import views

urlpatterns = [
    path("true-prices/", views.repricing, name="repricing"),
    path("true-prices/summary/", views.repricing_summary, name="repricing_summary"),
    path("true-prices/change/", views.repricing_change, name="repricing_change"),
    path("true-prices/<int:pk>/", views.repricing_decide, name="repricing_decide"),
    path("true-prices/quotes/<int:pk>/", views.repricing_quote, name="repricing_quote"),
    path("true-prices/tags/<int:pk>/settle/", views.repricing_tags, name="repricing_tags"),
    path("true-prices/decisions/<int:pk>/undo/", views.repricing_undo, name="repricing_undo"),
]
