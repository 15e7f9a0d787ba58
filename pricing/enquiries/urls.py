"""Addresses of the enquiries."""

from django.urls import path

from pricing.enquiries import views

urlpatterns = [
    path("enquiries/", views.enquiry_list, name="enquiry_list"),
    path("enquiries/new/", views.enquiry_new, name="enquiry_new"),
    path("enquiries/<int:pk>/", views.enquiry, name="enquiry"),
    path("enquiries/<int:pk>/edit/", views.enquiry_edit, name="enquiry_edit"),
    path("enquiries/<int:pk>/designs/", views.enquiry_designs, name="enquiry_designs"),
    path("enquiries/<int:pk>/quote/", views.enquiry_quote, name="enquiry_quote"),
    path("enquiries/<int:pk>/quote/undo/", views.enquiry_undo_quote, name="enquiry_undo_quote"),
    path("enquiries/<int:pk>/decline/", views.enquiry_decline, name="enquiry_decline"),
    path("enquiries/<int:pk>/reopen/", views.enquiry_reopen, name="enquiry_reopen"),
    path("enquiries/<int:pk>/archive/", views.enquiry_retire, name="enquiry_retire"),
    path("enquiries/<int:pk>/restore/", views.enquiry_restore, name="enquiry_restore"),
]
