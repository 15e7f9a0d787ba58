"""Addresses of the channel pages."""

from django.urls import path

from pricing.channels import views

urlpatterns = [
    path("channels/", views.channel_list, name="channel_list"),
    path("channels/usual/", views.channel_usual, name="channel_usual"),
    path("channels/new/", views.channel_new, name="channel_new"),
    path("channels/<int:pk>/", views.channel, name="channel"),
    path("channels/<int:pk>/move/", views.channel_move, name="channel_move"),
    path("channels/<int:pk>/retire/", views.channel_retire, name="channel_retire"),
    path("channels/<int:pk>/restore/", views.channel_restore, name="channel_restore"),
]
