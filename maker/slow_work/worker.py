"""The process that does slow work: runs tasks one after the other, and says that it lives."""

import logging
import os
import signal
import socket
import threading
import time
from collections.abc import Callable
from types import FrameType

from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.utils.crypto import get_random_string
from django_tasks import DEFAULT_TASK_BACKEND_ALIAS
from django_tasks_db.management.commands.db_worker import Worker as QueueWorker

from maker.slow_work.hourly import see_to_all
from maker.slow_work.services import clear_away, say_alive, say_goodbye, sweep
from maker.troubles.guard import database_file, write_no_half_byte_code
from maker.troubles.kinds import DatabaseFileGone, Trouble, trouble_behind

logger = logging.getLogger("maker.slow_work")

BEAT_EVERY_S = 5.0
CLEAR_EVERY_S = 24 * 3600.0
LOOK_EVERY_S = 0.5
# the first time not at once: whoever has just started it waits for pages
FIRST_HOUR_S, HOUR_S = 60.0, 3600.0
# how long a database that is away, full or damaged is left alone
TROUBLE_WAIT_S = 10.0
# pages come first
NICENESS = 10


class SlowWorker(QueueWorker):
    """A worker of the queue that shows signs of life and can end in the middle of a task."""

    def __init__(self, *, until_idle: bool = False) -> None:
        name = f"{socket.gethostname()[:24]}-{os.getpid()}-{get_random_string(12)}"
        super().__init__(
            queue_names=["*"],
            interval=LOOK_EVERY_S,
            batch=until_idle,
            backend_name=DEFAULT_TASK_BACKEND_ALIAS,
            startup_delay=False,
            max_tasks=None,
            worker_id=name,
            excluded_queue_names=[],
        )
        self.heart = Heart(self)

    def run(self) -> None:
        """Work until told to stop, or until nothing waits."""
        with self.heart:
            super().run()

    def shutdown(self, signum: int, frame: FrameType | None) -> None:
        """End at once; what was begun is given back by the heart, whose connection is free."""
        self.running = False
        if not self.heart.is_alive():
            raise SystemExit(0)
        self.heart.end_process()


class Heart(threading.Thread):
    """Says that the worker lives while its other thread is busy; has a connection of its own."""

    def __init__(self, worker: SlowWorker) -> None:
        super().__init__(name="sign of life", daemon=True)
        self.worker = worker
        self.woken, self.is_over, self.must_exit = threading.Event(), False, False
        self.cleared_at = -CLEAR_EVERY_S
        self.hour_began_at = time.monotonic() + FIRST_HOUR_S - HOUR_S
        self.file = database_file()

    def __enter__(self) -> None:
        say_alive(self.worker.worker_id)
        self.start()

    def __exit__(self, *unused: object) -> None:
        self.is_over = True
        self.woken.set()
        self.join()

    def end_process(self) -> None:
        """Let the process end, whatever its other thread is at."""
        self.must_exit = True
        self.woken.set()

    def run(self) -> None:
        try:
            while not self.is_over and not self.must_exit:
                self._try(self._beat)
                self.woken.wait(BEAT_EVERY_S)
            if self._is_same_file():
                self._try(lambda: say_goodbye(self.worker.worker_id))
        finally:
            connection.close()
        if self.must_exit:
            # the other thread may be in the middle of a sum that cannot be interrupted
            logging.shutdown()
            os._exit(0)

    def _is_same_file(self) -> bool:
        try:
            return database_file() == self.file
        except DatabaseFileGone:
            return False

    def _beat(self) -> None:
        if not self._is_same_file():
            # whatever is written from here on would be lost with the old file
            logger.warning("the database file is another one now: a new worker takes over")
            self.end_process()
            return
        write_no_half_byte_code()
        now = time.monotonic()
        say_alive(self.worker.worker_id)
        sweep()
        if now - self.cleared_at >= CLEAR_EVERY_S:
            clear_away()
            self.cleared_at = now
        if now - self.hour_began_at >= HOUR_S:
            self.hour_began_at = now
            see_to_all()

    def _try(self, ask: Callable[[], None]) -> None:
        """Ask the database; when it is away for a moment the next beat asks again."""
        try:
            ask()
        except (OperationalError, InterfaceError) as error:
            logger.warning("the database did not answer: %s", error)
            connection.close()


def work(*, until_idle: bool = False) -> None:
    """Do slow work in this process; wait where the database is away, and go on when it is back."""
    os.nice(NICENESS)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    told: Trouble | None = None
    while True:
        try:
            worker = SlowWorker(until_idle=until_idle)
            worker.configure_signals()
            worker.run()
        except (DatabaseError, InterfaceError) as error:
            trouble = trouble_behind(error)
            if trouble is None or until_idle:
                raise
            if trouble != told:
                logger.warning("%s: %s", trouble.heading, " ".join(str(error).split()))
            told = trouble
            connection.close()
            time.sleep(TROUBLE_WAIT_S)
        else:
            return
