"""A server that can be killed and started again often: a process that has loaded everything forks one that serves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

# What the server needs is loaded once; each line on stdin is a home, for which a child of its own serves.
NURSERY = """
import os, sys
from pathlib import Path
from server import serving
from server.app import create_app
from server.config import Config
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        app, bound = create_app(Config(Path(line.strip()))), serving.bind(serving.HOST_DEFAULT, 0)
        serving.serve(app, bound, lambda: print(os.getpid(), serving.address_of(bound), flush=True))
        os._exit(0)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


class KillableServer:
    """`start` serves a home and `kill` ends the server at once, as a power cut does for all that it holds in memory."""

    def __init__(self, home: Path) -> None:
        self._home = home
        self._pid = 0
        self._nursery = subprocess.Popen(
            [sys.executable, "-c", NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def start(self) -> str:
        """Serve; returns the host and port."""
        assert self._nursery.stdin is not None
        self._nursery.stdin.write(f"{self._home}\n")
        self._nursery.stdin.flush()
        pid, address = self._told().split()
        self._pid = int(pid)
        return address.removeprefix("http://")

    def kill(self) -> None:
        """SIGKILL: nothing is finished, closed or tidied up."""
        if self._pid:
            os.kill(self._pid, signal.SIGKILL)
            self._pid = 0
            assert self._told() == "gone"

    def close(self) -> None:
        """End both processes."""
        self.kill()
        assert self._nursery.stdin is not None and self._nursery.stdout is not None
        self._nursery.stdin.close()
        self._nursery.wait(timeout=15)
        self._nursery.stdout.close()

    def _told(self) -> str:
        assert self._nursery.stdout is not None
        return self._nursery.stdout.readline().strip()
