"""Addresses of the tax year."""

from django.urls import path

from pricing.tax_year import part_views, views

urlpatterns = [
    path("tax-year/", views.tax_year_now, name="tax_year_now"),
    path("tax-year/<int:year>/", views.tax_year, name="tax_year"),
    path("tax-year/<int:year>/stock/", views.tax_year_stock, name="tax_year_stock"),
    path("tax-year/<int:year>/both-ways/", views.tax_year_both, name="tax_year_both"),
    path(
        "tax-year/<int:year>/suppliers/", part_views.tax_year_suppliers, name="tax_year_suppliers"
    ),
    path(
        "tax-year/<int:year>/materials/", part_views.tax_year_materials, name="tax_year_materials"
    ),
    path("tax-year/<int:year>/orders/", part_views.tax_year_orders, name="tax_year_orders"),
    path("tax-year/<int:year>/pack/", views.tax_year_pack, name="tax_year_pack"),
]
