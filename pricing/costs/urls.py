"""Addresses of the cost pages."""

from django.urls import path

from pricing.costs import views

urlpatterns = [
    path("designs/<int:pk>/cost/", views.cost, name="cost"),
    path(
        "designs/<int:pk>/v/<int:number>/recipe/answer/", views.recipe_answer, name="recipe_answer"
    ),
    path("designs/<int:pk>/cost/quantities/", views.cost_quantities, name="cost_quantities"),
    path("designs/<int:pk>/cost/sizes/", views.cost_sizes, name="cost_sizes"),
]
