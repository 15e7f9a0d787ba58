"""Addresses of the versions of a design and of their recipes."""

from django.urls import path

from catalogue.recipes import place_views, size_views, views

urlpatterns = [
    path("designs/<int:design>/v/<int:number>/recipe/", views.recipe, name="recipe"),
    path(
        "designs/<int:design>/v/<int:number>/recipe/paste/", views.recipe_paste, name="recipe_paste"
    ),
    path(
        "designs/<int:design>/v/<int:number>/recipe/sizes/", views.recipe_sizes, name="recipe_sizes"
    ),
    path(
        "designs/<int:design>/v/<int:number>/recipe/undo/<int:edit_number>/",
        views.recipe_undo,
        name="recipe_undo",
    ),
    path(
        "designs/<int:design>/versions/<int:number>/size/",
        size_views.version_size,
        name="version_size",
    ),
    path(
        "designs/<int:design>/versions/<int:number>/free-sizes/",
        size_views.version_free_sizes,
        name="version_free_sizes",
    ),
    path("designs/<int:design>/v/<int:number>/places/", place_views.places, name="places"),
    path("designs/<int:design>/v/<int:number>/places/<int:at>/", place_views.place, name="place"),
    path(
        "designs/<int:design>/v/<int:number>/places/undo/<int:edit_number>/",
        place_views.places_undo,
        name="places_undo",
    ),
    path("designs/use-shape/", size_views.shape_use, name="shape_use"),
    path("designs/<int:design>/versions/new/", views.version_new, name="version_new"),
    path("designs/<int:design>/versions/compare/", views.version_compare, name="version_compare"),
]
