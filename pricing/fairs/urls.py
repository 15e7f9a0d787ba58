"""Addresses of the fairs."""

from django.urls import path

from pricing.fairs import after_views, bundle_views, item_views, take_views, views

urlpatterns = [
    path("designs/<int:pk>/at-fairs/", views.fair_share, name="design_at_fairs"),
    path("fairs/", views.fair_list, name="fair_list"),
    path("fairs/new/", views.fair_new, name="fair_new"),
    path("fairs/<int:pk>/", views.fair, name="fair"),
    path("fairs/<int:pk>/edit/", views.fair_edit, name="fair_edit"),
    path("fairs/<int:pk>/again/", views.fair_again, name="fair_again"),
    path("fairs/<int:pk>/costs/", views.fair_costs, name="fair_costs"),
    path("fairs/<int:pk>/float/", views.fair_float, name="fair_float"),
    path("fairs/<int:pk>/items/", item_views.fair_items, name="fair_items"),
    path("fairs/<int:pk>/items/add/", item_views.fair_items_add, name="fair_items_add"),
    path("fairs/<int:pk>/items/channel/", item_views.fair_channel, name="fair_channel"),
    path("fairs/<int:pk>/items/copy/", item_views.fair_items_copy, name="fair_items_copy"),
    path("fairs/<int:pk>/take/", take_views.fair_take, name="fair_take"),
    path("fairs/<int:pk>/plan/", take_views.fair_plan, name="fair_plan"),
    path("fairs/<int:pk>/packing/", take_views.fair_packing, name="fair_packing"),
    path("fairs/<int:pk>/bundles/new/", bundle_views.fair_bundle_new, name="fair_bundle_new"),
    path("fairs/<int:pk>/bundles/<int:bundle>/", bundle_views.fair_bundle, name="fair_bundle"),
    path(
        "fairs/<int:pk>/bundles/<int:bundle>/remove/",
        bundle_views.fair_bundle_remove,
        name="fair_bundle_remove",
    ),
    path("fairs/<int:pk>/orders/", bundle_views.fair_orders, name="fair_orders"),
    path("fairs/<int:pk>/counts/", after_views.fair_counts, name="fair_counts"),
    path("fairs/<int:pk>/days/<int:day>/", after_views.fair_day, name="fair_day"),
    path(
        "fairs/<int:pk>/days/<int:day>/reopen/",
        after_views.fair_day_reopen,
        name="fair_day_reopen",
    ),
]
