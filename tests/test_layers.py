"""Who may import whom, held by a test: the layer table of DEVELOPERS.md."""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
STDLIB = set(sys.stdlib_module_names) | {"__future__"}

# A package and what it may import besides the standard library and itself.
ALLOWED = {
    "server/wording": {"babel"},
    "server/analysis": {"numpy", "scipy", "server.wording"},
    "server/photos": {"numpy", "scipy", "PIL", "zxingcpp", "server.errors", "server.wording"},
    "labels": {"PIL", "qrcode", "reportlab"},
    "server/records": {"obstore", "peewee", "playhouse", "tzlocal", "server.errors", "server.ids", "server.wording"},
    "server/sync": {"orjson", "server.records", "server.errors", "server.ids", "server.wording"},
    "server/tables": {"server.records", "server.sync", "server.errors", "server.ids", "server.wording"},
    "server/keeping": {
        *("peewee", "server.records", "server.sync", "server.errors", "server.ids", "server.config"),
        "server.home_lock",
    },
    "server/reports": {
        "icalendar",
        "server.records",
        "server.analysis",
        "server.photos",
        "server.errors",
        "server.ids",
        "server.wording",
        "numpy",
        "orjson",
    },
    "server/api": {
        *("apispec", "flask", "werkzeug", "marshmallow", "orjson", "qrcode", "tzlocal", "labels"),
        *("server.sync", "server.records", "server.reports", "server.photos", "server.errors", "server.ids"),
        *("server.config", "server.tables", "server.wording"),
    },
    "server/lan": {
        *("cryptography", "ifaddr", "qrcode", "zeroconf"),
        *("server.errors", "server.ids", "server.config"),
    },
    "demo_db": {
        *("numpy", "PIL"),
        *("server.sync", "server.records", "server.reports", "server.photos", "server.errors", "server.ids"),
        *("server.config", "server.collection"),
    },
}
# Pure files: these may import the standard library, our errors and what says a message, alone.
PURE = {
    "server/sync/change.py": {"server.errors", "server.sync.fields", "server.wording.said"},
    "server/sync/fields.py": {"server.wording.said"},
    "server/sync/merge.py": set(),
}
JS_ALLOWED = {
    "core": {"core"},
    "store": {"store", "core", "idb"},
    "sync": {"sync", "core"},
    "device": {"device", "vendor"},
    "ui": {"ui", "core", "lit-html"},
}


def imported_names(path: Path) -> set[str]:
    """Full dotted names that a module imports."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports in full"
            names.add(node.module or "")
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    return names


def strangers(path: Path, allowed: set[str]) -> set[str]:
    """Imports of a file that its package may not have."""
    found = set()
    for name in imported_names(path):
        parts = name.split(".")
        prefixes = {".".join(parts[:length]) for length in range(1, len(parts) + 1)}
        if (
            parts[0] in STDLIB
            or prefixes & allowed
            or name == "server"
            or (name.startswith("server.") and name in {each.rsplit(".", 1)[0] for each in allowed})
        ):
            continue
        found.add(name)
    return found


@pytest.mark.parametrize("package", sorted(p for p in ALLOWED if (ROOT / p).is_dir()))
def test_a_package_imports_only_what_its_layer_allows(package: str) -> None:
    own = package.replace("/", ".")
    for path in sorted((ROOT / package).rglob("*.py")):
        assert not strangers(path, ALLOWED[package] | {own}), path.relative_to(ROOT)


@pytest.mark.parametrize("file", sorted(PURE))
def test_what_is_pure_imports_nothing_that_is_not(file: str) -> None:
    assert not strangers(ROOT / file, PURE[file])


def test_every_package_of_the_server_stands_in_the_table() -> None:
    folders = {f"server/{p.name}" for p in (ROOT / "server").iterdir() if (p / "__init__.py").exists()}
    assert folders <= set(ALLOWED)


@pytest.mark.parametrize("folder", sorted(JS_ALLOWED))
def test_a_client_folder_imports_only_what_its_layer_allows(folder: str) -> None:
    paths = sorted((ROOT / "webclient" / folder).rglob("*.js"))
    assert paths, folder
    for path in paths:
        # JSDoc may name another folder's types; only what the browser loads counts.
        text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        found = re.findall(r"""^(?:import|export)\s(?:[^;=]*?\bfrom\s+)?['"]([^'"]+)['"]""", text, flags=re.MULTILINE)
        found += re.findall(r"""\bimport\(\s*['"]([^'"]+)['"]""", text)
        for target in found:
            if target.startswith("."):
                top = (path.parent / target).resolve().relative_to(ROOT / "webclient").parts[0]
            else:
                top = target.split("/")[0]
            assert top in JS_ALLOWED[folder], f"{path.relative_to(ROOT)} imports {target}"


def test_the_client_inserts_no_raw_html() -> None:
    banned = re.compile(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|unsafeHTML|unsafe-html|\beval\(")
    for path in sorted((ROOT / "webclient").rglob("*.js")):
        if "vendor" not in path.parts:
            assert not banned.search(path.read_text(encoding="utf-8")), path.relative_to(ROOT)
