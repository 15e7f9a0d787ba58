"""Materials of an order: reserved, taken from stock, put back."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.materials.models import Material
from pricing.orders.materials import (
    AlreadyTaken,
    NothingTaken,
    need_lines,
    put_back_materials,
    take_materials,
)
from pricing.orders.services import accept, cancel_order
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote


def again(row):
    return type(row).objects.get(pk=row.pk)


@pytest.fixture
def order(workshop, owner):
    made = make_quote(workshop, title="Favour boxes")
    make_line(made, make_recipe(workshop), quantity=20)
    return accept(quote=sent_quote(made, owner), who="Ada Fenn", on=today(), today=today())


def used(order, **amounts):
    needs = list(order.needs.order_by("pk"))
    return take_materials(
        order=order,
        amounts=amounts.get("amounts", {need.material_id: need.amount for need in needs}),
        on=today(),
        today=today(),
        form_key=amounts.get("form_key") or uuid.uuid4(),
    )


def test_what_was_used_leaves_stock_once_and_can_be_put_back(order):
    (need, *_) = order.needs.all()
    before, key = need.material.on_hand, uuid.uuid4()
    used(order, amounts={need.material_id: need.amount - 1}, form_key=key)
    with pytest.raises(AlreadyTaken):
        used(order, amounts={need.material_id: Decimal(1)}, form_key=key)
    assert again(need).left == 1
    assert again(need.material).on_hand == before - need.amount + 1
    put_back_materials(order=order, form_key=key)
    assert again(need).left == need.amount
    assert again(need.material).on_hand == before
    with pytest.raises(NothingTaken):
        put_back_materials(order=order, form_key=key)


def test_nothing_entered_takes_nothing(order):
    with pytest.raises(NothingTaken):
        used(order, amounts={})
    with pytest.raises(NothingTaken):
        used(order, amounts={0: Decimal(5)})


def test_what_other_orders_reserved_is_not_free(workshop, owner, order):
    made = make_quote(workshop)
    line = order.quote.lines.get()
    make_line(made, line.version, quantity=20)
    second = accept(quote=sent_quote(made, owner), who="Bea", on=today(), today=today())
    (need, *_) = order.needs.all()
    Material.objects.filter(pk=need.material_id).update(on_hand=need.amount)
    mine = next(each for each in need_lines(second) if each.need.material_id == need.material_id)
    assert mine.reserved_elsewhere == need.amount
    assert (mine.free, mine.short) == (0, mine.need.amount)
    cancel_order(order=order, on=today(), today=today(), reason="", owed=Decimal(0))
    mine = next(each for each in need_lines(second) if each.need.material_id == need.material_id)
    assert (mine.reserved_elsewhere, mine.short) == (0, max(mine.need.amount - need.amount, 0))


def test_materials_are_taken_on_their_page(client, owner, workshop, order):
    client.force_login(owner)
    address = reverse("pricing:order_materials", args=[workshop.slug, order.pk])
    page = client.get(address).content.decode()
    (need, *_) = order.needs.select_related("material")
    assert need.material.name in page
    key = str(uuid.uuid4())
    typed = {f"m{need.material_id}": "2", "on": today().isoformat(), "form_key": key}
    assert client.post(address, {**typed, f"m{need.material_id}": "x"}).status_code == 422
    answer = client.post(address, typed, follow=True)
    assert "Took 1 material from stock" in answer.content.decode()
    assert again(need).taken == 2
    undo = reverse("pricing:order_materials_undo", args=[workshop.slug, order.pk, key])
    client.post(undo)
    assert again(need).taken == 0
