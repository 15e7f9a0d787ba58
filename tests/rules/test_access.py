"""Who is let in where, over every address of the site."""

import re

from django.http import HttpResponseBase
from django.test import Client
from django.urls import get_resolver, resolve

from tests.rules.addresses import Address, all_addresses

WRAPPERS = {"may_see", "may_compute", "may_change", "may_own"}
FOR_ANYONE = {
    "maker:health",
    "maker:sign_in",
    "maker:passkey_asked",
    "maker:lost_password",
    "pricing:fair_table_worker",
}
# A made-up link is a page of its own with status 404.
BY_LINK = {
    "maker:welcome",
    "maker:new_password",
    "pricing:calendar_feed",
    "pricing:customer_quote",
    "pricing:customer_quote_pdf",
}


def inside() -> list[Address]:
    return [address for address in all_addresses() if address.is_of_a_workshop]


def ask(client: Client, method: str, address: Address) -> HttpResponseBase:
    return getattr(client, method)(address.path())


def test_the_walk_finds_the_site() -> None:
    names = {address.name for address in all_addresses()}
    assert names >= FOR_ANYONE | BY_LINK
    assert {"pricing:home", "maker:workshop_tax", "maker:person_role"} <= names
    assert len(inside()) > 10


def test_every_view_of_a_workshop_is_wrapped_by_access() -> None:
    assert not [address.name for address in inside() if address.access not in WRAPPERS]


def test_every_address_has_a_name() -> None:
    unnamed = [a.route for a in all_addresses() if a.name.endswith("None") and a.route]
    assert not unnamed


def refused(client: Client, status: int, addresses: list[Address]) -> list[str]:
    """Return where something else than `status` was answered.

    A method an address does not know is 405, which says nothing of what lies there; but with
    one of the two methods it must answer `status`.
    """
    found = []
    for address in addresses:
        answers = {method: ask(client, method, address).status_code for method in ("get", "post")}
        if not {status} <= set(answers.values()) <= {status, 405}:
            found.append(f"{address.path()}: {answers}")
    return found


def test_nobody_gets_in_anywhere_but_at_the_door(anonymous_client: Client) -> None:
    assert not refused(anonymous_client, 302, inside())
    open_doors = []
    for address in all_addresses():
        if address.is_of_a_workshop or address.name in FOR_ANYONE:
            continue
        for method in ("get", "post"):
            status = ask(anonymous_client, method, address).status_code
            if status not in ({404} if address.name in BY_LINK else {302, 405}):
                open_doors.append(f"{method} {address.path()}: {status}")
    assert not open_doors


def test_a_stranger_finds_nothing_of_the_workshop(
    stranger_client: Client, workshop: object
) -> None:
    assert not refused(stranger_client, 404, inside())


def test_a_workshop_that_is_not_there_and_one_that_is_not_hers_look_the_same(
    stranger_client: Client, workshop: object
) -> None:
    hidden = stranger_client.get("/w/marlow/")
    missing = stranger_client.get("/w/no-such-workshop/")
    assert hidden.status_code == missing.status_code == 404
    token = re.compile(rb'csrfmiddlewaretoken" value="\w+"')
    assert token.sub(b"", hidden.content) == token.sub(b"", missing.content)


def test_a_reader_writes_nothing(reader_client: Client) -> None:
    let_in = []
    for address in inside():
        if address.access == "may_compute":
            continue
        status = ask(reader_client, "post", address).status_code
        if status == 405:
            # then it only shows, and a reader may look
            status = 403 if address.access in ("may_see", "may_own") else 405
        if status != 403:
            let_in.append(f"{address.path()}: {status}")
    assert not let_in


def test_a_reader_opens_no_page_that_exists_only_to_write(reader_client: Client) -> None:
    writing = [address for address in inside() if address.access in ("may_change", "may_own")]
    assert writing
    assert not refused(reader_client, 403, writing)


def test_a_helper_comes_into_no_setting(helper_client: Client) -> None:
    owned = [address for address in inside() if address.access == "may_own"]
    assert owned
    assert not refused(helper_client, 403, owned)


def test_no_other_method_gets_round_a_role(
    anonymous_client: Client, stranger_client: Client, reader_client: Client, helper_client: Client
) -> None:
    """Every address, with each method a browser never uses: never more than with the usual ones."""
    let_in = []
    for address in inside():
        expected = {
            anonymous_client: {302},
            stranger_client: {404},
            reader_client: {403} if address.access != "may_compute" else None,
            helper_client: {403} if address.access == "may_own" else None,
        }
        for browser, statuses in expected.items():
            if statuses is None:
                continue
            for method in ("put", "patch", "delete"):
                status = ask(browser, method, address).status_code
                if status not in statuses | {405}:
                    let_in.append(f"{method} {address.path()}: {status}")
    assert not let_in


def test_the_whole_site_is_walked_over() -> None:
    """By construction: whatever the resolver can reach is an address, with a view behind it."""
    known = {address.route for address in all_addresses()}
    resolver, routes = get_resolver(), set()
    waiting = [("", each) for each in resolver.url_patterns]
    while waiting:
        before, each = waiting.pop()
        route = before + str(each.pattern)
        if hasattr(each, "url_patterns"):
            waiting += [(route, below) for below in each.url_patterns]
        else:
            routes.add(route)
    assert routes == known
    # a converter the filling does not know would leave its address out of every test
    assert not [address.route for address in all_addresses() if "<" in address.path()]
    for address in all_addresses():
        assert resolve(address.path()).route == address.route


def test_a_number_no_row_can_have_is_not_found(client: Client, workshop: object) -> None:
    client.raise_request_exception = False
    for number in (2**63 - 1, 2**63, 10**40):
        found = []
        for address in all_addresses():
            path = address.path()
            if "<int:" in address.route and not address.name.startswith("moved:"):
                path = Address(
                    re.sub(r"<int:\w+>", str(number), address.route), address.name, None
                ).path()
                found += [
                    f"{method} {path}: {status}"
                    for method in ("get", "post")
                    if (status := getattr(client, method)(path).status_code) >= 500
                    or (number >= 2**63 and status not in (404, 405))
                ]
        assert not found, "\n".join(found)


def test_addresses_that_were_never_meant_are_404_or_400(client: Client, workshop: object) -> None:
    for path in (
        "/w/marlow/../else/",
        "/w/%00/",
        "/w/marlow/people/99999999999999999999999/role/",
        "/w/" + "x" * 3000 + "/",
        "/static/../maker/settings.py",
        "/%2e%2e/manage.py",
        "/workshops/leave/99999999999999999999999/",
    ):
        assert client.post(path).status_code in (400, 404), path
        assert client.get(path).status_code in (400, 404, 405), path


def test_who_does_not_look_after_the_installation_comes_into_none_of_its_pages(
    owner: object, helper_client: Client, reader_client: Client
) -> None:
    kept = [address for address in all_addresses() if address.access == "may_look_after"]
    assert len(kept) > 3
    for browser in (helper_client, reader_client):
        assert not refused(browser, 403, kept)
    # and every page of the installation says that it is one of its keeper's
    of_the_installation = [a for a in all_addresses() if a.route.startswith("installation/")]
    assert not [a.name for a in of_the_installation if a not in kept]
