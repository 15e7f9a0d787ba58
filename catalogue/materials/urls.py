"""Addresses of the materials."""

from django.urls import path

from catalogue.materials import views

urlpatterns = [
    path("materials/", views.material_list, name="material_list"),
    path("materials/new/", views.material_new, name="material_new"),
    path("materials/import/", views.material_import, name="material_import"),
    path("materials/<int:pk>/", views.material, name="material"),
    path("materials/<int:pk>/edit/", views.material_edit, name="material_edit"),
    path("materials/<int:pk>/picture/", views.material_picture, name="material_picture"),
    path(
        "materials/<int:pk>/picture/remove/",
        views.material_picture_remove,
        name="material_picture_remove",
    ),
    path("materials/<int:pk>/put-away/", views.material_retire, name="material_retire"),
    path("materials/<int:pk>/bring-back/", views.material_restore, name="material_restore"),
    path("packs/<int:pk>/", views.pack, name="pack"),
]
