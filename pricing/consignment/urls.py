"""Addresses of shops that sell her items."""

from django.urls import path

from pricing.consignment import views

urlpatterns = [
    path("shops/", views.shop_list, name="shop_list"),
    path("shops/new/", views.shop_new, name="shop_new"),
    path("shops/<int:pk>/", views.shop, name="shop"),
    path("shops/<int:pk>/edit/", views.shop_edit, name="shop_edit"),
    path("shops/<int:pk>/leave/", views.shop_leave, name="shop_leave"),
    path("shops/<int:pk>/back/", views.shop_back, name="shop_back"),
    path("shops/<int:pk>/settle/", views.shop_settle, name="shop_settle"),
    path("shops/<int:pk>/settlements/<int:settlement>/undo/", views.shop_undo, name="shop_undo"),
]
