"""Address of a return."""

from django.urls import path

from catalogue.supplier_returns import views

urlpatterns = [
    path("receipt-lines/<int:pk>/return/", views.supplier_return, name="supplier_return"),
]
