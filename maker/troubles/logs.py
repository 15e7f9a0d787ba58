"""A database that is away for an hour fills no log with the same thousand lines."""

import logging

from maker.troubles.kinds import trouble_behind


class TroublesInOneLine(logging.Filter):
    """Says what befell the machine without the traceback that a bug needs."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record through, shortened where the trouble is known."""
        error = record.exc_info[1] if isinstance(record.exc_info, tuple) else None
        if trouble := trouble_behind(error):
            reason = " ".join(str(error).split())
            record.msg, record.args = "%s: %s (%s)", (record.getMessage(), trouble.name, reason)
            record.exc_info = record.exc_text = None
        return True
