"""The web client as served: kinds, caching, nothing else leaves the folder, and a policy that a real browser keeps."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import BrowserContext

from server.app import create_app, webclient_folder
from server.compacting import compacted
from server.config import Config
from server.pages import content_policy, read_files, worker_with_list
from server.records.database import close_database
from tests.support.server import LiveServer

# All of it packed as one, the decoder left out, in English: each further language adds a catalogue of words, no code.
OWN_CODE_BYTES_MAX = 120_000
INDEX = (webclient_folder() / "index.html").read_text(encoding="utf-8")


@pytest.fixture
def pages(home: Path) -> FlaskClient:
    """The application on SQLite; pages ask no database."""
    client = create_app(Config(home)).test_client()
    close_database()
    return client


def test_each_kind_of_file_is_called_what_it_is(pages: FlaskClient) -> None:
    # Media types: RFC 9239 (JavaScript), IANA registry (WebAssembly), W3C Web Application Manifest.
    for path, kind in (
        ("/", "text/html"),
        ("/app.css", "text/css"),
        ("/core/tagcode.js", "text/javascript"),
        ("/manifest.webmanifest", "application/manifest+json"),
        ("/icons/leafwalk.svg", "image/svg+xml"),
        ("/icons/leafwalk-192.png", "image/png"),
        ("/vendor/zxing-wasm/reader/zxing_reader.wasm", "application/wasm"),
        ("/sw.js", "text/javascript"),
    ):
        answer = pages.get(path)
        assert (answer.status_code, answer.mimetype) == (200, kind), path
        assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_every_address_of_the_app_is_the_same_page(pages: FlaskClient) -> None:
    for path in ("/t/ABCDEF", "/T/ABCDEF", "/t/nonsense"):
        assert pages.get(path).data == pages.get("/").data, path
    preloads = re.compile(r'<link rel="modulepreload" href="/([^"]+)">\n  ')
    page = pages.get("/").text
    assert preloads.sub("", page) == INDEX
    # HTML Living Standard, 4.6.7.12: a module is fetched early only if it comes behind the import map.
    assert page.index("importmap") < page.index("modulepreload") < page.index("/app.js")
    listed = preloads.findall(page)
    assert {"ui/run.js", "store/open.js", "vendor/idb/index.js", "vendor/lit-html/lit-html.js"} <= set(listed)
    assert not [path for path in listed if path.startswith("ui/screens/")], "a screen is fetched when it is needed"
    assert all(pages.get(f"/{path}").status_code == 200 for path in listed)


def test_a_file_that_did_not_change_is_not_sent_again(pages: FlaskClient) -> None:
    first = pages.get("/app.css")
    assert first.headers["Cache-Control"] == "no-cache, no-transform"
    again = pages.get("/app.css", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert pages.get("/app.css", headers={"If-None-Match": '"other"'}).status_code == 200


def test_a_file_is_packed_for_those_who_take_it(pages: FlaskClient) -> None:
    plain, packed = pages.get("/app.css"), pages.get("/app.css", headers={"Accept-Encoding": "gzip"})
    assert gzip.decompress(packed.data) == plain.data
    assert packed.headers["ETag"] != plain.headers["ETag"]
    assert "Content-Encoding" not in pages.get("/app.css", headers={"Accept-Encoding": "gzip;q=0"}).headers


def test_nothing_but_the_web_client_leaves_its_folder(pages: FlaskClient) -> None:
    for path in (
        "/vendor_hook.py",
        "/package.json",
        "/package-lock.json",
        "/.npmrc",
        "/vendor/.lock",
        "/vendor/idb/LICENSE",
        "/index.html",
        "/core",
        "/core/",
        "/../server/app.py",
        "/core/../../server/app.py",
        "/%2e%2e/server/app.py",
        "/..%2fserver%2fapp.py",
        "/core/..%5c..%5cserver%5capp.py",
        "//etc/passwd",
        "/app.css%00",
    ):
        assert pages.get(path).status_code in (404, 308), path
        assert b"import" not in pages.get(path, follow_redirects=True).data, path


def test_what_is_ours_is_served_without_its_comments_and_what_is_not_as_it_is(pages: FlaskClient) -> None:
    # ECMA-262: what a template literal holds is the author's text, in a template within it too; a line's end may end
    # a statement; two signs in a row are not the sign for "one more".
    for written, served in (
        ("// why\nf( g`a  b // c ${ g`d  e ${ what }` }` ) ; /* why */\n", "f(g`a  b // c ${g`d  e ${what}`}`);"),
        ("let a = 1\nreturn /\\/ \\/\\//.test( a + +b )", "let a=1\nreturn/\\/ \\/\\//.test(a+ +b)"),
        ("html`<p>\n    ${ a  }  b\n</p>`", "html`<p>\n${a}  b\n</p>`"),
        ("const { a,\n  b } = { 'c  d': 1 };\n\n\nexport default a;", "let{a,b}={'c  d':1};export default a;"),
        ("f = () => { g(); while (h()); };\n", "f=()=>{g();while(h());};"),
        ("class A { b = 1; c() { return 2; } }", "class A{b=1;c(){return 2}}"),
        ("f((a) => async (b) => (c, d) => (...e) => ({ g }) => a);", "f(a=>async b=>(c,d)=>(...e)=>({g})=>a);"),
        ("f({ true: true }, a.false, !false ? 'true' : true);", "f({true:!0},a.false,!!1?'true':!0);"),
        ("for (const a of b) return (c) => c;", "for(let a of b)return c=>c;"),
        ('html`<a class="b-c" d="e f" @g="h" i=${j}>"</a>`', 'html`<a class=b-c d="e f" @g="h" i=${j}>"</a>`'),
        ("function broken( {", "function broken( {"),
    ):
        assert compacted(".js", written.encode()).decode() == served
    assert compacted(".css", b"/* why */ p::before { content: ' /* a  b */ '; }\n\na > b {}") == (
        b"p::before{content:' /* a  b */ '}a>b{}"
    )
    assert compacted(".png", b"/* */") == b"/* */"
    for path in ("app.js", "app.css", "core/time.js", "vendor/idb/index.js"):
        written = (webclient_folder() / path).read_bytes()
        assert (len(pages.get(f"/{path}").data) < len(written)) is ("vendor" not in path), path


def test_the_whole_of_our_own_code_is_small(pages: FlaskClient) -> None:
    ours = [
        f
        for path, f in read_files(webclient_folder()).items()
        if f.suffix in {".js", ".css", ".html"} and "vendor" not in path and not path.startswith("ui/text_de")
    ]
    assert len(gzip.compress(b"".join(file.data for file in ours), 9)) < OWN_CODE_BYTES_MAX


def test_hidden_files_and_links_out_are_not_read(tmp_path: Path) -> None:
    (tmp_path / "seen.js").write_text("1")
    (tmp_path / ".hidden.js").write_text("1")
    (tmp_path / "node_modules").mkdir()
    (tmp_path / "node_modules" / "part.js").write_text("1")
    (tmp_path / "notes.txt").write_text("1")
    assert list(read_files(tmp_path)) == ["seen.js"]


def test_the_worker_lists_every_file_it_needs_and_its_version_follows_them(pages: FlaskClient, tmp_path: Path) -> None:
    first_line, rest = pages.get("/sw.js").text.split("\n", 1)
    assert rest == read_files(webclient_folder())["sw.js"].data.decode()
    listed = json.loads(re.fullmatch(r"self\.PRECACHE = (\{.*\});", first_line)[1])
    assert {"/", "/app.js", "/app.css", "/manifest.webmanifest"} <= set(listed["files"])
    assert not {"/sw.js", "/index.html"} & set(listed["files"])
    assert len(listed["files"]) == len(set(listed["files"]))
    for path, integrity in listed["files"].items():
        for packing in ("identity", "gzip"):
            answer = pages.get(path, headers={"Accept-Encoding": packing})
            assert answer.status_code == 200, path
            data = gzip.decompress(answer.data) if "Content-Encoding" in answer.headers else answer.data
            # What a browser compares is the bytes as they are unpacked: Fetch Standard, main fetch.
            assert integrity == f"sha256-{base64.b64encode(hashlib.sha256(data).digest()).decode()}", path

    def version() -> str:
        return re.search(r'"version": "(\w+)"', worker_with_list(read_files(tmp_path)).data.decode())[1]

    seen = []
    for name, text in (("sw.js", "f()"), ("a.js", "1"), ("a.js", "2"), ("sw.js", "g()"), ("b.css", "p{}")):
        (tmp_path / name).write_text(text)
        seen.append(version())
        assert version() == seen[-1]
    assert len(set(seen)) == len(seen)


def test_the_policy_lets_the_one_inline_map_in_and_no_other_inline_script(pages: FlaskClient) -> None:
    # The hash of a script's text: W3C Content Security Policy 3, section 6.7.3.3.
    (inline,) = re.findall(r'<script type="importmap">(.*?)</script>', INDEX, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(inline.encode()).digest()).decode()
    policy = pages.get("/").headers["Content-Security-Policy"]
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split("; ")}
    assert set(rules["script-src"]) == {"'self'", "'wasm-unsafe-eval'", f"'sha256-{digest}'"}
    assert rules["default-src"] == ["'none'"]
    assert rules["frame-ancestors"] == ["'none'"]
    assert "unsafe-inline" not in policy
    assert "'unsafe-eval'" not in policy
    assert content_policy('<script src="/a.js"></script>').count("sha256-") == 0


def test_a_real_browser_opens_the_app_and_keeps_to_the_policy(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    context = new_context(allowed=[r"Content Security Policy"])
    page = context.new_page()
    page.goto(f"{live_server.url}/T/ABCDEF")
    page.wait_for_selector("#app > :not(.opening)")
    broken = page.evaluate(
        """async () => {
          const broken = [];
          addEventListener('securitypolicyviolation', (event) => broken.push(event.effectiveDirective));
          const script = document.createElement('script');
          script.textContent = 'window.intruded = true';
          document.body.append(script);
          await fetch('https://elsewhere.example/').catch(() => null);
          await WebAssembly.compileStreaming(fetch('/vendor/zxing-wasm/reader/zxing_reader.wasm'));
          return [broken, window.intruded === true];
        }"""
    )
    assert broken == [["script-src-elem", "connect-src"], False]


def test_the_app_itself_breaks_no_rule_of_its_policy(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    page = new_context().new_page()
    page.goto(f"{live_server.url}/#/pair/{live_server.pair()}")
    page.wait_for_selector("#app > :not(.opening)")
    page.evaluate("navigator.serviceWorker.ready")
