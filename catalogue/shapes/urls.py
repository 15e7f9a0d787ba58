"""Addresses of the library of shapes."""

from django.urls import path

from catalogue.shapes import views

urlpatterns = [
    path("shapes/", views.shape_list, name="shape_list"),
    path("shapes/<str:form>/", views.shape, name="shape"),
    path("shapes/<str:form>/sheets/", views.shape_sheets, name="shape_sheets"),
    path("shapes/<str:form>/template.pdf", views.shape_pdf, name="shape_pdf"),
    path("shapes/<str:form>/pattern.svg", views.shape_file, name="shape_file"),
]
