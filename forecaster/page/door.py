"""Who may come in, and by which way: one key, one cookie, our own address, our own forms.

Cautions of the Open Worldwide Application Security Project's cheat sheets (cross-site request
forgery, content security policy, DNS rebinding), from memory.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from flask import Flask, Request, Response, abort, g, redirect, request
from werkzeug.wrappers import Response as Answer

COOKIE = "crossday"
TOKEN = "token"  # noqa: S105 - the name of a field
HEADER = "X-Crossday-Token"
LONGEST_UPLOAD_BYTES = 40_000_000
LONGEST_FORM_BYTES = 200_000
MOST_FIELDS = 200
MOST_GUESTS = 8
RULES = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
FREE_FILES = ("static", "vendored")  # style, scripts and icons: nothing of the garden's


@dataclass(slots=True)
class Guest:
    """Another device: the number that it shows, and whether it was let in."""

    number: str
    let_in: bool = False


@dataclass(slots=True, kw_only=True)
class Keys:
    """The secrets of one run of the program.

    Parameters
    ----------
    hosts : set of str
        Addresses with port under which the page may be asked: `127.0.0.1:8123`.
    entry : str
        Opens the page once.
    session : str
        What the browser then shows with every request.
    guest_key : str
        Brings one other device to the door; "" where the page is not shared.
    guests : dict of str to Guest
        Other devices by their cookie.
    """

    hosts: set[str] = field(default_factory=set)
    entry: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    session: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    guest_key: str = ""
    guests: dict[str, Guest] = field(default_factory=dict)

    def use_entry(self, given: str) -> bool:
        """Say whether a key opens the page; it does so once."""
        right = bool(self.entry) and hmac.compare_digest(given.encode(), self.entry.encode())
        if right:
            self.entry = ""
        return right

    def is_owner(self, cookie: str) -> bool:
        """Say whether a cookie is that of the computer's own browser."""
        return hmac.compare_digest(cookie.encode(), self.session.encode())

    def is_guest(self, cookie: str) -> bool:
        """Say whether a cookie is that of a device that was let in."""
        guest = self.guests.get(cookie)
        return guest is not None and guest.let_in

    def knock(self, given: str) -> str | None:
        """Return the cookie of a device that comes with the key, which then is another's."""
        right = bool(self.guest_key) and hmac.compare_digest(
            given.encode(), self.guest_key.encode()
        )
        if not right or len(self.guests) >= MOST_GUESTS:
            return None
        self.guest_key = secrets.token_urlsafe(16)
        cookie = secrets.token_urlsafe(32)
        self.guests[cookie] = Guest(f"{secrets.randbelow(9000) + 1000}")
        return cookie

    def token(self, cookie: str) -> str:
        """Return what every form of a browser carries."""
        made = hmac.new(self.session.encode(), b"form " + cookie.encode(), hashlib.sha256)
        return made.hexdigest()


def cookie_name(keys: Keys) -> str:
    """Return the cookie's name: of this port, since browsers keep cookies by host alone."""
    return f"{COOKIE}_{sorted(keys.hosts)[0].rsplit(':', 1)[-1]}"


def guard(app: Flask, keys: Keys) -> None:
    """Let in only what may come in, and send every answer out with the rules of the house."""
    app.config.update(
        MAX_CONTENT_LENGTH=LONGEST_UPLOAD_BYTES,
        MAX_FORM_MEMORY_SIZE=LONGEST_FORM_BYTES,
        MAX_FORM_PARTS=MOST_FIELDS,
    )

    @app.before_request
    def check() -> None:
        _check_host(keys, request)
        if request.endpoint in (*FREE_FILES, "enter", "share.knock", "share.waiting"):
            return
        cookie = request.cookies.get(cookie_name(keys), "")
        g.owner = keys.is_owner(cookie)
        if not g.owner and not keys.is_guest(cookie):
            abort(403, "Open this page with the address that the program printed.")
        g.token = keys.token(cookie)
        if request.method not in ("GET", "HEAD"):
            _check_form(keys, cookie, request)

    @app.after_request
    def dress(answer: Response) -> Response:
        answer.headers.setdefault("Content-Security-Policy", RULES)
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        return answer

    @app.get("/enter")
    def enter() -> Answer:
        if not keys.use_entry(request.args.get("key", "")):
            abort(403, "This address opens the page once. Start the program again for a new one.")
        answer = redirect("/", 303)
        give_cookie(answer, keys, keys.session)
        return answer


def give_cookie(answer: Answer, keys: Keys, value: str) -> None:
    """Give a browser the cookie by which it is known until the program ends."""
    answer.set_cookie(cookie_name(keys), value, httponly=True, samesite="Strict", path="/")


def _check_host(keys: Keys, asked: Request) -> None:
    """Refuse a name that is not ours: another's page may have pointed its own name here."""
    if asked.host not in keys.hosts:
        abort(400, "This address is not the page's own.")


def _check_form(keys: Keys, cookie: str, asked: Request) -> None:
    """Refuse a change that did not come from a form of this page."""
    origin = asked.headers.get("Origin")
    site = asked.headers.get("Sec-Fetch-Site")
    if origin is not None:
        parts = urlsplit(origin)
        if parts.scheme != "http" or parts.netloc != asked.host:
            abort(403, "This change came from another page and was refused.")
    elif site != "same-origin":
        abort(403, "This change did not say which page it came from and was refused.")
    given = asked.headers.get(HEADER) or asked.form.get(TOKEN, "")
    if not hmac.compare_digest(given.encode(), keys.token(cookie).encode()):
        abort(403, "This form is of an earlier run of the program. Load the page again.")
