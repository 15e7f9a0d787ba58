"""Addresses of the pages of this app, inside one workshop."""

from django.urls import include, path

app_name = "catalogue"
urlpatterns = [
    path("", include("catalogue.suppliers.urls")),
    path("", include("catalogue.materials.urls")),
    path("", include("catalogue.stock.urls")),
    path("", include("catalogue.purchases.urls")),
    path("", include("catalogue.supplier_returns.urls")),
    path("", include("catalogue.expenses.urls")),
    path("", include("catalogue.receipt_files.urls")),
    path("", include("catalogue.shapes.urls")),
    path("", include("catalogue.designs.urls")),
    path("", include("catalogue.recipes.urls")),
    path("", include("catalogue.offcuts.urls")),
    path("", include("catalogue.cutting_plans.urls")),
]
