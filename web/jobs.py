"""Work that may take longer than a page: done in a thread, with its progress to be looked at.

Few and rare: one at a time, and only the last few are remembered. What a job makes is a file in a
folder of its own, which goes when the job is forgotten or the program ends.
"""

from __future__ import annotations

import logging
import secrets
import shutil
import tempfile
import threading
import weakref
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from casebook.problems import FileRefused, NotStorable, StoreProblem
from casebook.progress import Progress

MOST = 4
"""Jobs remembered."""

_log = logging.getLogger("web.jobs")


@dataclass(frozen=True, slots=True)
class Made:
    """What came of a job: a sentence, and a file if it made one."""

    sentence: str
    file: Path | None = None
    name: str = ""


Work = Callable[[Progress, Path], Made]
"""What is done: told where to report and which folder it may write in."""


class Busy(Exception):
    """Another job is still running; `job` is it."""

    def __init__(self, job: Job) -> None:
        super().__init__(f"{job.title} is still running; wait until it is done.")
        self.job = job


def _new_folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="panadier-"))


@dataclass(eq=False)
class Job:
    """One piece of work, as its page shows it."""

    title: str
    folder: Path = field(default_factory=_new_folder)
    id: str = field(default_factory=lambda: secrets.token_urlsafe(12))
    doing: str = ""
    done: int = 0
    of: int = 0
    made: Made | None = None
    problems: tuple[str, ...] = ()
    over: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        """Let the folder go with the job, and with the program."""
        self.forget = weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)

    def progress(self, what: str, done: int, of: int) -> None:
        """How far it has come."""
        self.doing, self.done, self.of = what, done, of

    def run(self, work: Work) -> None:
        """Do it, and keep what came of it or every reason why nothing did."""
        try:
            self.made = work(self.progress, self.folder)
        except (FileRefused, NotStorable, StoreProblem) as refused:
            self.problems = tuple(str(refused).split("\n"))
        except Exception:
            _log.exception("A job failed")
            self.problems = ("Something in this program went wrong, so nothing was done.",)
        finally:
            self.over.set()


class Jobs:
    """The jobs of one running program."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[str, Job] = OrderedDict()

    def start(
        self,
        title: str,
        work: Work,
        *,
        bring: Callable[[Path], None] | None = None,
        patience_s: float = 0.7,
    ) -> Job:
        """Begin, and wait a moment, since most are soon done. Raises `Busy`.

        ``bring`` puts what is needed into the folder, before this returns.
        """
        with self._lock:
            running = next((job for job in self._known.values() if not job.over.is_set()), None)
            if running is not None:
                raise Busy(running)
            job = Job(title)
            if bring is not None:
                bring(job.folder)
            self._known[job.id] = job
            while len(self._known) > MOST:
                self._known.popitem(last=False)[1].forget()
        threading.Thread(target=job.run, args=(work,), name=title, daemon=True).start()
        job.over.wait(patience_s)
        return job

    def get(self, id: str) -> Job | None:
        """The job of this name, while it is remembered."""
        with self._lock:
            return self._known.get(id)
