"""Addresses of the calendar: inside a workshop, and the feed for whoever has its secret."""

from django.urls import path

from pricing.calendar import views

urlpatterns = [
    path("calendar/", views.calendar_month, name="calendar"),
    path("calendar/address/", views.calendar_feed_new, name="calendar_feed_new"),
    path("calendar/address/end/", views.calendar_feed_end, name="calendar_feed_end"),
]
for_subscribers = [path("calendar/<str:token>.ics", views.calendar_feed, name="calendar_feed")]
