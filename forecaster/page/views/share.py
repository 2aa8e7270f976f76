"""Share: a phone beside the bed, brought by a code and let in on the computer."""

from __future__ import annotations

from flask import Blueprint, abort, current_app, g, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster.page.door import Guest, Keys, cookie_name, give_cookie

views = Blueprint("share", __name__)
SCALE = 6  # pixels a square of the code


def _keys() -> Keys:
    found: Keys = current_app.config["KEYS"]
    return found


def _only_owner() -> None:
    if not g.owner:
        abort(403, "Only the computer's own page can do this.")


@views.get("/share")
def share() -> str:
    """Show the code to scan, and who asks to be let in."""
    _only_owner()
    keys = _keys()
    address, code = "", ""
    if keys.guest_key:
        import segno

        host = next(one for one in sorted(keys.hosts) if not one.startswith("127."))
        address = f"http://{host}/knock?key={keys.guest_key}"
        code = segno.make(address, error="m").svg_inline(scale=SCALE, omitsize=True)
    guests = [(one.number, one.let_in) for one in keys.guests.values()]
    return render_template(
        "share.html", address=address, code=code, guests=guests, here="share",
    )  # fmt: skip


@views.post("/share")
def decide() -> Answer:
    """Let a device in, or send it away."""
    _only_owner()
    keys, number = _keys(), request.form.get("number", "")
    for cookie, guest in list(keys.guests.items()):
        if guest.number == number:
            if request.form.get("what") == "let in":
                guest.let_in = True
            else:
                del keys.guests[cookie]
    return redirect("/share", 303)


@views.get("/knock")
def knock() -> Answer:
    """Take note of a device that comes with the code."""
    cookie = _keys().knock(request.args.get("key", ""))
    if cookie is None:
        abort(403, "This code was used already. The computer's page Share shows a new one.")
    answer = redirect("/knock/wait", 303)
    give_cookie(answer, _keys(), cookie)
    return answer


@views.get("/knock/wait")
def waiting() -> Answer | str:
    """Show the number to compare until the computer lets the device in."""
    keys = _keys()
    guest: Guest | None = keys.guests.get(request.cookies.get(cookie_name(keys), ""))
    if guest is None:
        abort(403, "This device was not let in.")
    if guest.let_in:
        return redirect("/", 303)
    return render_template("waiting.html", number=guest.number, here="")
