"""What a helper process does: it takes no notice of Ctrl-C, and ends with the process that started it."""

from __future__ import annotations


def settle(*, gentle: bool = False) -> None:
    """Called first thing in a helper process; gentle: other work on the machine comes first."""
    import os
    import signal
    from threading import Thread

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches all; the process that started these ends them
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if gentle and hasattr(os, "nice"):
        os.nice(10)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """If the process that started this one is killed, nobody waits for the answer."""
    import os
    from multiprocessing import parent_process
    from multiprocessing.connection import wait

    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
