"""The content security policy of every page: what a page may run, ask for and show, whatever stands in it.

It is the second wall: text of the record is escaped before it reaches a page. ``file:`` stands beside
``'self'`` because a report is opened from disk. Styles may be inline, for drawings carry theirs.
"""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from html import escape
from urllib.parse import urlsplit

_INLINE = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_HOST = re.compile(r"[A-Za-z0-9.-]+(?::\d+)?")


def policy(scripts: str = "", pictures: str = "") -> str:
    """Return the meta element with the policy of a page.

    ``scripts`` is HTML whose inline scripts may run, each by its SHA-256; ``pictures`` is one
    more source of pictures, as Content Security Policy Level 3 writes it.

    >>> print(policy())
    <meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'self' file:; \
style-src 'self' file: 'unsafe-inline'; img-src 'self' file: data:; worker-src 'self' file:; \
frame-src 'self' file:; connect-src 'self' file:; form-action 'none'; base-uri 'none'">
    """
    hashes = (b64encode(sha256(script.encode("utf-8")).digest()).decode() for script in _INLINE.findall(scripts))
    here = "'self' file:"
    rules = {
        "default-src": "'none'",
        "script-src": " ".join((here, *(f"'sha256-{digest}'" for digest in hashes))),
        "style-src": f"{here} 'unsafe-inline'",
        "img-src": f"{here} data: {pictures}".rstrip(),
        "worker-src": here,
        "frame-src": here,
        "connect-src": here,
        "form-action": "'none'",
        "base-uri": "'none'",
    }
    content = "; ".join(f"{name} {sources}" for name, sources in rules.items())
    return f'<meta http-equiv="Content-Security-Policy" content="{escape(content, quote=False)}">'


def host_of(address: str) -> str:
    """Return the host of an address as a source for a policy, "" where it could say more than a host.

    >>> host_of("https://tiles.example.test/{z}/{x}/{y}.png")
    'https://tiles.example.test'
    >>> host_of("https://a;script-src *;/{z}")
    ''
    """
    host = urlsplit(address).netloc
    return f"https://{host}" if _HOST.fullmatch(host) else ""
