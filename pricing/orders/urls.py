"""Addresses of the orders."""

from django.urls import path

from pricing.orders import (
    approval_views,
    change_views,
    date_views,
    invoice_views,
    material_views,
    money_views,
    overdue_views,
    together_views,
    views,
)

urlpatterns = [
    path("quotes/<int:pk>/accept/", views.quote_accept, name="quote_accept"),
    path("quotes/<int:pk>/reopen/", views.quote_reopen, name="quote_reopen"),
    path("quotes/<int:pk>/plan-order/", views.order_plan, name="order_plan"),
    path("orders/", views.order_list, name="order_list"),
    path("orders/overdue/", overdue_views.overdue_list, name="overdue_list"),
    path(
        "orders/<int:pk>/invoices/<int:invoice>/reminder/",
        overdue_views.invoice_remind,
        name="invoice_remind",
    ),
    path(
        "orders/<int:pk>/deliveries/<int:delivery>/note.pdf",
        invoice_views.delivery_note_pdf,
        name="delivery_note",
    ),
    path("orders/together/", together_views.orders_together, name="orders_together"),
    path("orders/<int:pk>/", views.order, name="order"),
    path("orders/<int:pk>/dates/", date_views.order_dates, name="order_dates"),
    path("orders/<int:pk>/edit/", views.order_edit, name="order_edit"),
    path("orders/<int:pk>/stage/", views.order_stage, name="order_stage"),
    path("orders/<int:pk>/deliveries/", views.order_deliveries, name="order_deliveries"),
    path(
        "orders/<int:pk>/deliveries/<int:delivery>/left/",
        views.delivery_left,
        name="delivery_left",
    ),
    path(
        "orders/<int:pk>/deliveries/<int:delivery>/undo/",
        views.delivery_undo,
        name="delivery_undo",
    ),
    path("orders/<int:pk>/cancel/", views.order_cancel, name="order_cancel"),
    path("orders/<int:pk>/reinstate/", views.order_reinstate, name="order_reinstate"),
    path("orders/<int:pk>/materials/", material_views.order_materials, name="order_materials"),
    path(
        "orders/<int:pk>/materials/<uuid:key>/undo/",
        material_views.order_materials_undo,
        name="order_materials_undo",
    ),
    path(
        "orders/<int:pk>/materials/<int:material>/keep-lot/",
        material_views.order_lot_keep,
        name="order_lot_keep",
    ),
    path(
        "orders/<int:pk>/materials/<int:material>/let-lot-go/",
        material_views.order_lot_let_go,
        name="order_lot_let_go",
    ),
    path("orders/<int:pk>/changes/new/", change_views.change_new, name="order_change_new"),
    path("orders/<int:pk>/changes/<int:change>/", change_views.order_change, name="order_change"),
    path(
        "orders/<int:pk>/changes/<int:change>/items/new/",
        change_views.change_item,
        name="order_change_item",
    ),
    path(
        "orders/<int:pk>/changes/<int:change>/answer/",
        change_views.change_answer,
        name="order_change_answer",
    ),
    path(
        "orders/<int:pk>/changes/<int:change>/undo/",
        change_views.change_undo,
        name="order_change_undo",
    ),
    path(
        "orders/<int:pk>/changes/<int:change>/counter/",
        change_views.change_counter,
        name="order_change_counter",
    ),
    path(
        "orders/<int:pk>/changes/<int:change>/withdraw/",
        change_views.change_withdraw,
        name="order_change_withdraw",
    ),
    path(
        "orders/<int:pk>/changes/<int:change>/restore/",
        change_views.change_restore,
        name="order_change_restore",
    ),
    path("orders/<int:pk>/names/", approval_views.order_names, name="order_names"),
    path(
        "orders/<int:pk>/approvals/<slug:kind>/",
        approval_views.approval_new,
        name="order_approval",
    ),
    path(
        "orders/<int:pk>/approvals/<slug:kind>/undo/",
        approval_views.approval_undo,
        name="order_approval_undo",
    ),
    path("orders/<int:pk>/payments/new/", money_views.payment_new, name="payment_new"),
    path(
        "orders/<int:pk>/payments/<int:payment>/undo/",
        money_views.payment_undo,
        name="payment_undo",
    ),
    path(
        "orders/<int:pk>/deliveries/<int:delivery>/invoice/",
        invoice_views.invoice_new,
        name="invoice_new",
    ),
    path(
        "orders/<int:pk>/invoices/<int:invoice>.pdf",
        invoice_views.invoice_pdf,
        name="invoice_pdf",
    ),
    path(
        "orders/<int:pk>/invoices/<int:invoice>/e-invoice/",
        invoice_views.invoice_electronic,
        name="invoice_electronic",
    ),
    path(
        "orders/<int:pk>/invoices/<int:invoice>/credit/",
        invoice_views.invoice_credit,
        name="invoice_credit",
    ),
]
