"""Walks over a site as a reader would, from link to link, a few pages of each address."""

import re
from collections import Counter, deque
from collections.abc import Iterator
from html import unescape
from typing import Any

from django.test import Client
from django.urls import Resolver404, resolve

LINK = re.compile(r'(?:href|src|action|hx-get)="([^"#]*)"')


def body_of(answer: Any) -> bytes:
    """Return all that was answered, also of a file sent in parts."""
    return b"".join(answer.streaming_content) if answer.streaming else bytes(answer.content)


def links_of(page: str, at: str) -> list[str]:
    """Return the addresses a page names, as paths with their queries."""
    found = []
    for link in map(unescape, LINK.findall(page)):
        if link.startswith("?"):
            link = at.partition("?")[0] + link
        if link.startswith("/") and not link.startswith(("//", "/static/")):
            found.append(link)
    return found


def crawl(client: Client, start: str = "/workshops/", each: int = 1) -> Iterator[tuple[str, Any]]:
    """Yield (path, answer) of up to `each` pages of every address that can be reached."""
    visited: Counter[str] = Counter()
    queue, seen = deque([start]), {start}
    while queue:
        path = queue.popleft()
        try:
            name = resolve(path.partition("?")[0]).view_name
        except Resolver404:
            continue
        if visited[name] >= each:
            continue
        answer = client.get(path)
        if answer.status_code == 405:
            continue
        visited[name] += 1
        yield path, answer
        if answer.status_code in (301, 302):
            found = [answer["Location"]]
        elif "html" in answer.headers.get("Content-Type", ""):
            found = links_of(body_of(answer).decode(), path)
        else:
            found = []
        for link in found:
            if link not in seen:
                seen.add(link)
                queue.append(link)
