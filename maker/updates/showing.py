"""Whether a person is to be told that the program was updated."""

from maker import VERSION
from maker.accounts.models import User
from maker.backup.models import Installation


def is_news(user: User, installation: Installation) -> bool:
    """Say whether it was updated since she joined, and she has not closed the note on it yet."""
    updated_at = installation.updated_at
    return bool(
        updated_at
        and installation.version == VERSION
        and user.joined_at < updated_at
        and user.seen_version != VERSION
    )
