"""Addresses of the expenses."""

from django.urls import path

from catalogue.expenses import views

urlpatterns = [
    path("expenses/", views.expense_list, name="expense_list"),
    path("expenses/new/", views.expense_new, name="expense_new"),
    path("expenses/<int:pk>/", views.expense, name="expense"),
    path("expenses/<int:pk>/edit/", views.expense_edit, name="expense_edit"),
    path("expenses/<int:pk>/files/", views.expense_files, name="expense_files"),
    path("expenses/<int:pk>/delete/", views.expense_delete, name="expense_delete"),
    path("expenses/<int:pk>/restore/", views.expense_restore, name="expense_restore"),
]
