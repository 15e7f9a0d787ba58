"""The one place that answers "may see" and "may change".

Views take `workshop` (the slug in the address) and are wrapped by one of `may_see`,
`may_change` or `may_own`. The wrapper puts `workshop` and `membership` on the request and
drops the slug, so a view starts with a workshop it may use. A workshop or row that is not
hers is a 404, a reader's write a 403.

Memberships are reached through the person who asks, so this module needs no other feature
and every feature may use it.
"""

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar

from django.contrib.auth.decorators import login_required
from django.core.exceptions import ObjectDoesNotExist, PermissionDenied
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

if TYPE_CHECKING:
    from maker.accounts.models import Membership, User
    from maker.workshop.models import Workshop

Row = TypeVar("Row", bound=Model)
View = Callable[..., HttpResponseBase]


class WorkshopRequest(HttpRequest):
    """A request of a signed-in person inside one of her workshops."""

    user: "User"
    workshop: "Workshop"
    membership: "Membership"


def _enter(request: Any, slug: str) -> None:
    memberships = request.user.memberships.select_related("workshop")
    try:
        # `first` would order by a key: a third of the time this takes, before every page
        membership = memberships.get(workshop__slug=slug)
    except ObjectDoesNotExist:
        raise Http404("No workshop of yours has this address.") from None
    request.membership = membership
    request.workshop = membership.workshop


def _wrapped(view: View, name: str, allowed: Callable[[Any], bool]) -> View:
    @wraps(view)
    def inner(request: Any, workshop: str, **kwargs: Any) -> HttpResponseBase:
        _enter(request, workshop)
        if not allowed(request):
            raise PermissionDenied("Your role in this workshop does not allow this.")
        since = request.workshop.second_step_since
        if since and request.user.owes_second_step(since, timezone.now()):
            back = urlencode({"next": request.get_full_path() if request.method == "GET" else ""})
            return redirect(f"{reverse('maker:second_step_wanted')}?{back}")
        return view(request, **kwargs)

    # read by the test that walks over every address
    inner.access = name  # type: ignore[attr-defined] # functions carry any attribute
    return login_required(inner)


def may_see(view: View) -> View:
    """Let every member look; writing through this view needs `may_change` on the role."""

    def allowed(request: Any) -> bool:
        return request.method in ("GET", "HEAD", "OPTIONS") or request.membership.may_change

    return _wrapped(view, "may_see", allowed)


def may_compute(view: View) -> View:
    """Let every member post, for views that only compute and store nothing."""
    return _wrapped(view, "may_compute", lambda request: True)


def may_change(view: View) -> View:
    """Let owners and helpers in, for pages that exist only to write."""
    return _wrapped(view, "may_change", lambda request: request.membership.may_change)


def may_own(view: View) -> View:
    """Let owners in only."""
    return _wrapped(view, "may_own", lambda request: request.membership.may_own)


def may_look_after(view: View) -> View:
    """Let in who looks after the installation, for pages of no single workshop."""

    @wraps(view)
    def inner(request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not request.user.looks_after_installation:
            raise PermissionDenied("Only who looks after this installation may do this.")
        return view(request, *args, **kwargs)

    inner.access = "may_look_after"  # type: ignore[attr-defined] # functions carry any attribute
    return login_required(inner)


def row_or_404(queryset: QuerySet[Row], pk: int) -> Row:
    """Return one row of a queryset already narrowed to the workshop, else 404."""
    # `first` would order by a key what is one row, and wide rows take long to order
    row = next(iter(queryset.filter(pk=pk).order_by()[:1]), None)
    if row is None:
        raise Http404("Nothing of this workshop has this address.")
    return row
