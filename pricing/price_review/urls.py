"""Addresses of the pages to review prices."""

from django.urls import path

from pricing.price_review import views

urlpatterns = [
    path("review-prices/", views.price_review, name="price_review"),
    path("review-prices/summary/", views.price_review_summary, name="price_review_summary"),
    path("review-prices/change/", views.price_review_change, name="price_review_change"),
    path("review-prices/<int:pk>/", views.price_review_decide, name="price_review_decide"),
    path("review-prices/quotes/<int:pk>/", views.price_review_quote, name="price_review_quote"),
    path("review-prices/tags/<int:pk>/settle/", views.price_review_tags, name="price_review_tags"),
    path(
        "review-prices/decisions/<int:pk>/undo/", views.price_review_undo, name="price_review_undo"
    ),
]
