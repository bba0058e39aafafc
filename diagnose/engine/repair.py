"""Load experta 1.9.4 on current Pythons, and keep it quiet.

experta pins ``frozendict`` 1.2, which still looks for ``collections.Mapping``; that name left the
standard library in Python 3.10. The name is put back only while frozendict is being loaded, and
taken away again, so that no other code in the process ever sees it. Installed packages stay as the
installer left them, and ``pip check`` stays clean.
"""

from __future__ import annotations

import collections
import collections.abc
import importlib
import logging
import sys
import threading
from types import ModuleType

_lock = threading.Lock()

NEEDED = ("KnowledgeEngine", "Rule", "Fact", "NOT", "P")
"""What this project uses of experta. Its own import hides a missing dependency by leaving the
package empty, so the names are looked for one by one."""


class EngineUnavailable(ImportError):
    """experta cannot be used, with a sentence that says what to do."""


def load_frozendict() -> None:
    """Import frozendict, lending it the name it lacks for exactly that long.

    A frozendict that imports by itself (a newer release, or one already loaded) is left alone.
    """
    with _lock:
        if "frozendict" in sys.modules:
            return
        try:
            importlib.import_module("frozendict")
            return
        except AttributeError as error:
            if "Mapping" not in str(error):
                raise
        sys.modules.pop("frozendict", None)
        lent = not hasattr(collections, "Mapping")
        if lent:
            collections.Mapping = collections.abc.Mapping  # type: ignore[attr-defined]  # the loan
        try:
            importlib.import_module("frozendict")
        finally:
            if lent:
                del collections.Mapping  # type: ignore[attr-defined]  # the loan ends


def load_experta() -> ModuleType:
    """Import experta, check that it is whole, and undo what it does to logging.

    experta calls ``logging.basicConfig()`` when imported, which would add a handler to the root
    logger of whoever uses this project.

    Raises:
        EngineUnavailable: experta or something it needs is not installed, or was imported by
            other code before and broke.
    """
    load_frozendict()
    root = logging.getLogger()
    before = list(root.handlers)
    experta = importlib.import_module("experta")
    for handler in list(root.handlers):
        if handler not in before:
            root.removeHandler(handler)
            handler.close()
    logging.getLogger("experta").setLevel(logging.WARNING)
    missing = [name for name in NEEDED if not hasattr(experta, name)]
    if missing:
        raise EngineUnavailable(
            f"The rule engine experta loaded without {', '.join(missing)}. Something it needs is "
            "missing, or other code imported it first and it broke. Install this project again in "
            "an environment of its own."
        )
    return experta


load_experta()
