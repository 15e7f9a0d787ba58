"""Addresses of the designs."""

from django.urls import path

from catalogue.designs import photos, views

urlpatterns = [
    path("designs/", views.design_list, name="design_list"),
    path("designs/new/", views.design_new, name="design_new"),
    path("designs/<int:pk>/", views.design, name="design"),
    path("designs/<int:pk>/edit/", views.design_edit, name="design_edit"),
    path("designs/<int:pk>/copy/", views.design_copy, name="design_copy"),
    path("designs/<int:pk>/photos/", photos.design_photos, name="design_photos"),
    path(
        "designs/<int:pk>/photos/<int:photo>/remove/",
        photos.design_photo_remove,
        name="design_photo_remove",
    ),
    path("designs/<int:pk>/put-away/", views.design_retire, name="design_retire"),
    path("designs/<int:pk>/bring-back/", views.design_restore, name="design_restore"),
]
