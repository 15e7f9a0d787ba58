"""Addresses of the pages of this app, inside one workshop."""

from django.urls import URLPattern

app_name = "catalogue"
urlpatterns: list[URLPattern] = []
