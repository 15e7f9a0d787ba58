"""Addresses of this app: sign-in, workshops, settings, health."""

from django.urls import URLPattern

app_name = "maker"
urlpatterns: list[URLPattern] = []
