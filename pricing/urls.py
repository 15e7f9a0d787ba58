"""Addresses of the pages of this app: inside one workshop, and of the examples."""

from django.urls import URLPattern, URLResolver, include, path

from pricing.home import views as home

app_name = "pricing"
in_a_workshop: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("", include("pricing.costs.urls")),
    path("", include("pricing.ladders.urls")),
    path("", include("pricing.bands.urls")),
    path("", include("pricing.comparisons.urls")),
    path("", include("pricing.defence.urls")),
    path("", include("pricing.timings.urls")),
    path("", include("pricing.what_ifs.urls")),
    path("", include("pricing.channels.urls")),
    path("", include("pricing.prices.urls")),
    path("", include("pricing.price_tags.urls")),
    path("", include("pricing.customers.urls")),
    path("", include("pricing.quotes.urls")),
    path("", include("pricing.bridges.urls")),
    path("", include("pricing.reports.urls")),
    path("", include("pricing.repricing.urls")),
]
urlpatterns = [
    path("", include("pricing.workshop_file.urls")),
    path("w/<slug:workshop>/", include(in_a_workshop)),
]
