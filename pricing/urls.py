"""Addresses of the pages of this app: inside one workshop, and of the examples."""

from django.urls import URLPattern, URLResolver, include, path

from pricing.home import views as home

app_name = "pricing"
in_a_workshop: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("", include("pricing.costs.urls")),
    path("", include("pricing.quantities.urls")),
    path("", include("pricing.price_range.urls")),
    path("", include("pricing.channel_comparison.urls")),
    path("", include("pricing.for_customers.urls")),
    path("", include("pricing.times.urls")),
    path("", include("pricing.what_ifs.urls")),
    path("", include("pricing.channels.urls")),
    path("", include("pricing.prices.urls")),
    path("", include("pricing.price_tags.urls")),
    path("", include("pricing.customers.urls")),
    path("", include("pricing.quotes.urls")),
    path("", include("pricing.price_history.urls")),
    path("", include("pricing.spending.urls")),
    path("", include("pricing.price_review.urls")),
]
urlpatterns = [
    path("", include("pricing.workshop_file.urls")),
    path("w/<slug:workshop>/", include(in_a_workshop)),
]
