"""Addresses of the channels of a design, side by side."""

from django.urls import path

from pricing.channel_comparison import views

urlpatterns = [path("designs/<int:pk>/channels/", views.design_channels, name="design_channels")]
