"""Addresses of this app: sign-in, workshops, settings, people, health."""

from django.urls import path

from maker.accounts import views as accounts
from maker.web import health
from maker.workshop import views as workshop

app_name = "maker"
urlpatterns = [
    path("health/", health.health, name="health"),
    path("sign-in/", accounts.sign_in, name="sign_in"),
    path("sign-out/", accounts.sign_out, name="sign_out"),
    path("account/", accounts.account, name="account"),
    path("workshops/", workshop.workshop_list, name="workshop_list"),
    path("workshops/new/", workshop.workshop_new, name="workshop_new"),
    path("w/<slug:workshop>/settings/", workshop.workshop_settings, name="workshop_settings"),
    path("w/<slug:workshop>/people/", accounts.people, name="people"),
]
