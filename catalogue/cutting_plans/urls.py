"""Addresses of cutting plans."""

from django.urls import path

from catalogue.cutting_plans import cutting_views, views

urlpatterns = [
    path("cutting-plans/", views.plan_list, name="plan_list"),
    path("cutting-plans/new/", views.plan_new, name="plan_new"),
    path("cutting-plans/<int:pk>/", views.plan, name="plan"),
    path("cutting-plans/<int:pk>/progress/", views.plan_progress, name="plan_progress"),
    path("cutting-plans/<int:pk>/stop/", views.plan_stop, name="plan_stop"),
    path("cutting-plans/<int:pk>/longer/", views.plan_longer, name="plan_longer"),
    path("cutting-plans/<int:pk>/pdf/", views.plan_pdf, name="plan_pdf"),
    path("cutting-plans/<int:pk>/layouts/<int:number>.svg", views.plan_layout, name="plan_layout"),
    path("cutting-plans/<int:pk>/cut/", cutting_views.plan_cut, name="plan_cut"),
    path("cutting-plans/<int:pk>/cut/take-back/", cutting_views.plan_uncut, name="plan_uncut"),
    path("cutting-plans/<int:pk>/offcuts/", cutting_views.plan_keep, name="plan_keep"),
    path(
        "cutting-plans/<int:pk>/offcuts/take-back/", cutting_views.plan_unkeep, name="plan_unkeep"
    ),
]
