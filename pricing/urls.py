"""Addresses of the pages of this app, inside one workshop."""

from django.urls import include, path

from pricing.home import views as home

app_name = "pricing"
urlpatterns = [
    path("", home.home, name="home"),
    path("", include("pricing.costs.urls")),
    path("", include("pricing.channels.urls")),
    path("", include("pricing.prices.urls")),
    path("", include("pricing.price_tags.urls")),
]
