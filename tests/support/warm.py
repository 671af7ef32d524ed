"""What a server loads before it serves; a process that has it already can be forked into many servers."""

from __future__ import annotations

import server.app
import server.keeping.nightly
import server.serving  # noqa: F401
from server.app import webclient_folder
from server.pages import read_files

read_files(webclient_folder())
