"""Our own scripts and style sheets without what only their readers need, for the way to the phone.

The files stay as they are written, and nothing is built: comments and idle space are left out when the server starts;
in the text of a page's template, which shows a run of space as one, a line's end with its indent becomes a line's end.
A line stays a line wherever its end could matter (ECMA-262, automatic semicolon insertion), and no name is changed, so
that what a phone reports can be found in the source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

import tree_sitter_javascript
from tree_sitter import Language, Node, Parser

# One process may make several web servers of the same files, as tests do.
FILES_KEPT = 256
# What is the author's text to the last space, and a statement that is its semicolon alone.
_WHOLE = frozenset({"string", "regex", "string_fragment", "html_comment", "empty_statement"})
# A template holds code in its substitutions.
_TEMPLATE, _MARKUP = "template_string", "markup"
_PAGE_TAGS = frozenset({b"html", b"svg"})
_INDENT = re.compile(rb"[ \t]*\n\s*")
# HTML Living Standard, 13.1.2.3: unquoted attribute values.
_QUOTED = re.compile(rb"([ \n][\w-]+=)\"([\w-]+)\"(?=[ >\n])")
# What is never set again may as well be; and "not 0" is true.
_SHORTER = {"const": b"let", "true": b"!0", "false": b"!1"}
_OPENS, _CLOSES = b"{([,;", b"})],;"
_WORD = re.compile(rb"[\w$\x80-\xff]")
_CSS_STRING_OR_COMMENT = re.compile(r"(\"[^\"]*\"|'[^']*'|/\*.*?\*/)", re.DOTALL)


@lru_cache(FILES_KEPT)
def compacted(suffix: str, data: bytes) -> bytes:
    """The same script or style sheet without comments and idle space; any other file, or a broken one, as it is."""
    if suffix == ".js":
        return _script(data)
    return _style(data.decode("utf-8")).encode() if suffix == ".css" else data


def _script(data: bytes) -> bytes:
    tree = Parser(Language(tree_sitter_javascript.language())).parse(data)
    if tree.root_node.has_error:
        return data
    out, end = bytearray(), 0
    tokens = list(_tokens(tree.root_node))
    following = [data[start : start + 1] for start, _, _ in tokens[1:]]
    for (start, stop, kind), after in zip(tokens, [*following, b""], strict=True):
        if kind == ";" and after == b"}":
            end = stop  # the bracket ends the statement as well (ECMA-262, automatic semicolon insertion)
            continue
        out += _gap(bytes(out[-1:]), data[end:start], data[start : start + 1])
        out += _shown(kind, data[start:stop])
        end = stop
    return bytes(out)


def _shown(kind: str, text: bytes) -> bytes:
    """A token as it goes out: a plain word needs no quotes in HTML, and some words have shorter ones of their kind."""
    if kind == _MARKUP:
        return _QUOTED.sub(rb"\1\2", _INDENT.sub(b"\n", text))
    return _SHORTER.get(kind, text)


def _tokens(node: Node, is_markup: bool = False) -> Iterator[tuple[int, int, str]]:
    """Where each token begins and ends, and its kind: text of a page's template, or as the grammar calls it.

    The text of a template counts as one with the marks beside it.
    """
    if node.type == "comment":
        return
    if node.type in _WHOLE or not node.children:
        yield node.start_byte, node.end_byte, _MARKUP if is_markup else node.type
        return
    if _is_one_name(node):
        yield from _tokens(node.children[1])
        return
    at = node.start_byte
    is_page = node.type == _TEMPLATE and _is_tagged(node)
    for child in node.children:
        if node.type == _TEMPLATE and at < child.start_byte:
            yield at, child.start_byte, _MARKUP if is_page else _TEMPLATE
        yield from _tokens(child, is_page and child.type == "string_fragment")
        at = child.end_byte


def _is_one_name(node: Node) -> bool:
    """Whether these are the brackets around the one name that an arrow function takes."""
    parent, kinds = node.parent, [child.type for child in node.children]
    return kinds == ["(", "identifier", ")"] and parent is not None and parent.type == "arrow_function"


def _is_tagged(template: Node) -> bool:
    """Whether a template is one of the page's, as lit-html has them."""
    call = template.parent
    tag = None if call is None else call.child_by_field_name("function")
    return tag is not None and tag.text in _PAGE_TAGS


def _gap(before: bytes, between: bytes, after: bytes) -> bytes:
    """What has to stay between two tokens, given the last byte of one and the first of the next."""
    if not between:
        return b""
    if b"\n" in between:
        return b"" if before in _OPENS or after in _CLOSES else b"\n"
    needed = (_WORD.match(before) and _WORD.match(after)) or (before == after and before in b"+-/")
    return b" " if needed else b""


def _style(text: str) -> str:
    parts = _CSS_STRING_OR_COMMENT.split(text)
    kept = (("" if part.startswith("/*") else part) if at % 2 else _idle(part) for at, part in enumerate(parts))
    return "".join(kept).strip()


def _idle(css: str) -> str:
    css = re.sub(r"\s+", " ", css)
    return re.sub(r" ?([{};,>]) ?", r"\1", css).replace(": ", ":").replace(";}", "}")
