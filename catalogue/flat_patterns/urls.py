"""Addresses of the library of forms."""

from django.urls import path

from catalogue.flat_patterns import views

urlpatterns = [
    path("forms/", views.pattern_forms, name="pattern_forms"),
    path("forms/<str:form>/", views.pattern_form, name="pattern_form"),
    path("forms/<str:form>/sheets/", views.pattern_advice, name="pattern_advice"),
    path("forms/<str:form>/template.pdf", views.pattern_pdf, name="pattern_pdf"),
    path("forms/<str:form>/pattern.svg", views.pattern_file, name="pattern_file"),
]
