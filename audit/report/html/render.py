"""The page itself: one HTML file that needs nothing but itself.

Everything that comes from a show goes through `visible` and Jinja's escaping. The security policy in the page
forbids whatever it does not hold itself: no address is ever asked, and only this script and this style run.
"""

from __future__ import annotations

import base64
import hashlib
from functools import lru_cache
from typing import Any

import jinja2
from markupsafe import Markup

from audit.findings import Severity, ShowAudit
from audit.report.html.faults import Extras
from audit.report.html.view import page_view
from audit.report.words import visible

NOTHING_READ = Extras(excerpts={}, sounds={})


def to_html(
    audit: ShowAudit,
    *,
    extras: Extras = NOTHING_READ,
    made: str = "",
    asked: str | None = None,
    threshold: Severity | None = None,
) -> str:
    """The page; the same audit, extras and day give the same text. It ends with a line end.

    extras: places read again and clips to hear; made: the day, in words.
    """
    style, script = source("page.css"), source("page.js")
    page = environment().get_template("page.html").render(
        page=page_view(audit, extras, made=made, asked=asked, threshold=threshold),
        style=Markup(style),
        script=Markup(script),
        policy=policy(style, script),
    )  # fmt: skip
    return page.strip() + "\n"


def policy(style: str, script: str) -> str:
    """Content Security Policy level 3 (W3C): only what bears these hashes, and media within the page."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; media-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


@lru_cache(maxsize=1)
def environment() -> jinja2.Environment:
    """Escapes all that is not ours, and makes visible what would hide or steer."""
    return jinja2.Environment(
        loader=jinja2.PackageLoader("audit.report.html"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_harmless,
    )


def source(name: str) -> str:
    """A file beside the templates, as it is."""
    loader = environment().loader
    assert loader is not None
    return loader.get_source(environment(), name)[0].strip() + "\n"


def _harmless(value: Any) -> Any:
    return visible(value) if type(value) is str else value


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
