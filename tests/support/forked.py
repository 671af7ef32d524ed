"""The `leafwalk` command in processes forked from one that has loaded everything: the same code, without the wait.

Hundreds of tests of screens need a server of their own. The tests of the command itself start it as a user does.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
from multiprocessing.context import ForkServerContext, ForkServerProcess
from multiprocessing.reduction import DupFd
from typing import Any, TextIO

_context: ForkServerContext | None = None


def _warm() -> ForkServerContext:
    """The process that all are forked from; it ends with this one."""
    global _context  # noqa: PLW0603 one for the whole process, made when first needed
    if _context is None:
        _context = multiprocessing.get_context("forkserver")
        _context.set_forkserver_preload(["tests.support.warm"])
    return _context


def _run(output: Any, environment: dict[str, str], arguments: list[str]) -> None:
    printed = output.detach()
    os.dup2(printed, 1)
    os.dup2(printed, 2)
    os.close(printed)
    # Those of the warm process remember what they led to.
    sys.stdout, sys.stderr = (open(number, "w", buffering=1, encoding="utf-8", closefd=False) for number in (1, 2))  # noqa: SIM115
    # The warm process keeps the environment of its own start; a test may have changed what a command reads from it.
    os.environ.clear()
    os.environ.update(environment)
    from server.cli import main

    main(arguments)


class Forked:
    """One command that runs; what subprocess.Popen offers, as far as tests of screens need it."""

    def __init__(self, arguments: list[str]) -> None:
        receiving, sending = os.pipe()
        self.process: ForkServerProcess = _warm().Process(
            target=_run, args=(DupFd(sending), dict(os.environ), arguments)
        )
        self.process.start()
        os.close(sending)
        self.stdout: TextIO = os.fdopen(receiving, encoding="utf-8", errors="replace")
        assert self.process.pid is not None
        self.pid: int = self.process.pid

    def poll(self) -> int | None:
        """The exit status, or None while it runs."""
        return self.process.exitcode

    def wait(self, timeout: float | None = None) -> int:
        """Wait for its end; the exit status."""
        self.process.join(timeout)
        if self.process.exitcode is None:
            raise subprocess.TimeoutExpired("leafwalk", timeout or 0)
        return self.process.exitcode

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)
