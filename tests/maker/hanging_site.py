"""Pages that hang in Python, in a library, in the database, or with something half saved."""

import os
import time
from contextlib import suppress

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import path
from django.views.decorators.csrf import csrf_exempt

from maker import urls
from maker.heavy_pages.marks import heavy
from maker.troubles.time_limit import takes_its_time

handler500 = urls.handler500
FOR_EVER_S = 600


def _loop() -> None:
    end = time.monotonic() + FOR_EVER_S
    while time.monotonic() < end:
        pass


def light(request: HttpRequest) -> HttpResponse:
    return JsonResponse({"pid": os.getpid()})


def loop(request: HttpRequest) -> HttpResponse:
    _loop()
    return HttpResponse()


def stubborn(request: HttpRequest) -> HttpResponse:
    """Catches whatever comes, twice, as some libraries do."""
    for _ in range(2):
        with suppress(Exception):
            _loop()
    _loop()
    return HttpResponse()


def deaf(request: HttpRequest) -> HttpResponse:
    """Sits in one call of C, where no exception reaches it."""
    time.sleep(FOR_EVER_S)
    return HttpResponse()


def query(request: HttpRequest) -> HttpResponse:
    with connection.cursor() as cursor:
        cursor.execute(
            "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT max(x) FROM n"
        )
    return HttpResponse()


@csrf_exempt
def write(request: HttpRequest) -> HttpResponse:
    """Saves a row, and hangs before the end of the transaction where it is asked to."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("CREATE TABLE IF NOT EXISTS said (words text)")
        cursor.execute("INSERT INTO said VALUES (%s)", [request.GET["words"]])
        if "hang" in request.GET:
            with transaction.atomic():
                _loop()
    return HttpResponse()


def said(request: HttpRequest) -> HttpResponse:
    with connection.cursor() as cursor:
        cursor.execute("SELECT words FROM said ORDER BY words")
        return JsonResponse({"said": [words for (words,) in cursor]})


@csrf_exempt
def body(request: HttpRequest) -> HttpResponse:
    return HttpResponse(request.body)


@takes_its_time
def slowly(request: HttpRequest) -> HttpResponse:
    time.sleep(6)
    return HttpResponse("done")


@csrf_exempt
def seen(request: HttpRequest, what: str) -> HttpResponse:
    """What a view sees of a visitor."""
    answer = JsonResponse(
        {
            "pid": os.getpid(),
            "nice": os.nice(0),
            "as": [
                request.method,
                request.scheme,
                request.META["REMOTE_ADDR"],
                request.get_full_path(),
                request.get_host(),
                dict(request.COOKIES),
                dict(request.POST.lists()),
                request.headers.get("X-Pleat-Note"),
                request.headers.get("X-Forwarded-For"),
            ],
        },
        status=418,
    )
    answer.set_cookie("one", "1")
    answer.set_cookie("two", "2")
    return answer


@heavy()
def heavy_loop(request: HttpRequest) -> HttpResponse:
    return loop(request)


@heavy()
def heavy_deaf(request: HttpRequest) -> HttpResponse:
    return deaf(request)


@heavy()
@csrf_exempt
def heavy_seen(request: HttpRequest, what: str) -> HttpResponse:
    return seen(request, what)


@heavy("POST")
@csrf_exempt
def heavy_post(request: HttpRequest) -> HttpResponse:
    return seen(request, "")


urlpatterns = [
    path("light/", light),
    path("loop/", loop),
    path("stubborn/", stubborn),
    path("deaf/", deaf),
    path("query/", query),
    path("write/", write),
    path("said/", said),
    path("body/", body),
    path("slowly/", slowly),
    path("seen/<str:what>/", seen),
    path("heavy/loop/", heavy_loop),
    path("heavy/deaf/", heavy_deaf),
    path("heavy/seen/<str:what>/", heavy_seen),
    path("heavy/post/", heavy_post),
]
