"""Log lines as JSON, one object a line."""

import json
import logging
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

# Set while a request is answered, so that every line of it can be found by the id she sees.
current_request_id: ContextVar[str | None] = ContextVar("current_request_id", default=None)


class JsonFormatter(logging.Formatter):
    """Writes time, level, logger, message, request, the record's `fields` and a traceback."""

    def format(self, record: logging.LogRecord) -> str:
        """Return one line of JSON."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        request_id = current_request_id.get()
        if request_id:
            line["request_id"] = request_id
        line.update(getattr(record, "fields", {}))
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)
