"""Addresses of the pages of this app: inside one workshop, and of the examples."""

from django.urls import URLPattern, URLResolver, include, path

from pricing.calendar.urls import for_subscribers
from pricing.customer_pages.urls import for_customers
from pricing.fair_sales.urls import for_phones
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
    path("", include("pricing.price_boards.urls")),
    path("", include("pricing.customers.urls")),
    path("", include("pricing.quotes.urls")),
    path("", include("pricing.enquiries.urls")),
    path("", include("pricing.orders.urls")),
    path("", include("pricing.finished_stock.urls")),
    path("", include("pricing.fairs.urls")),
    path("", include("pricing.consignment.urls")),
    path("", include("pricing.making.urls")),
    path("", include("pricing.customer_pages.urls")),
    path("", include("pricing.letters.urls")),
    path("", include("pricing.personal_data.urls")),
    path("", include("pricing.calendar.urls")),
    path("", include("pricing.fair_sales.urls")),
    path("", include("pricing.bench_sheets.urls")),
    path("", include("pricing.price_history.urls")),
    path("", include("pricing.closed_months.urls")),
    path("", include("pricing.search.urls")),
    path("", include("pricing.to_buy.urls")),
    path("", include("pricing.can_make.urls")),
    path("", include("pricing.spending.urls")),
    path("", include("pricing.tax_year.urls")),
    path("", include("pricing.price_review.urls")),
]
urlpatterns = [
    path("", include("pricing.workshop_file.urls")),
    path("", include(for_customers)),
    path("", include(for_subscribers)),
    path("", include(for_phones)),
    path("w/<slug:workshop>/", include(in_a_workshop)),
]
