"""Addresses of the spending pages."""

from django.urls import path

from pricing.spending import part_views, views

urlpatterns = [
    path("spending/", views.spending, name="spending"),
    path("spending/stock/", part_views.spending_stock, name="spending_stock"),
    path("spending/shelf/", part_views.spending_shelf, name="spending_shelf"),
    path("spending/groups/", part_views.spending_groups, name="spending_groups"),
    path("spending/everything/", part_views.spending_everything, name="spending_everything"),
    path("spending/orders-and-fairs/", part_views.spending_owners, name="spending_owners"),
    path("spending/prices/", part_views.spending_prices, name="spending_prices"),
    path("spending/filter/", part_views.spending_filter, name="spending_filter"),
    path("spending/budget/", views.spending_budget, name="spending_budget"),
    path("spending/<int:year>/<int:month>/", views.spending_month, name="spending_month"),
]
