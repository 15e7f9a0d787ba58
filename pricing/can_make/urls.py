"""Address of what can be made from stock."""

from django.urls import path

from pricing.can_make import views

urlpatterns = [path("can-make/", views.can_make_page, name="can_make")]
