"""The page put together: rules of the door, views, templates, and errors as sentences."""

from __future__ import annotations

import os
from typing import Any

from flask import Flask, Response, g, redirect, render_template, request, send_from_directory
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as Answer

from forecaster.ground.errors import DataMissing, ForecasterError
from forecaster.packaged import data_path
from forecaster.page.door import Keys, guard
from forecaster.page.garden import Garden
from forecaster.page.say import sentence_of, tight
from forecaster.page.views import (
    air,
    beds,
    begin,
    check,
    crops,
    data,
    goes,
    ground,
    materials,
    read,
    share,
    today,
    week,
)
from forecaster.page.views.common import NoBed
from forecaster.words.phrases import degrees, say_day, short_day

LONGEST_SAID = 300  # of a fault, on the terminal
VENDORED = ("htmx.min.js", "uplot.iife.min.js", "uplot.min.css")
SENTENCES = {
    404: "There is no such page here.",
    405: "That cannot be done this way.",
    413: "That file is larger than 40 MB. Cut it into years, or leave out what is not temperature.",
}
BACK = {"begin": "/begin", "air": "/begin?step=air", "read": "/read",
        "beds": "/bed", "ground": "/bed", "crops": "/crops", "week": "/week",
        "materials": "/materials", "goes": "/materials", "data": "/data"}  # fmt: skip
FAULT = (
    "Something went wrong in this program, not in what you did. Load the page again; the terminal "
    "says what it was."
)


def make_app(garden: Garden, keys: Keys) -> Flask:
    """Return the page of a garden, behind its door."""
    app = Flask("forecaster.page", static_folder="static", template_folder="templates")
    app.config.update(GARDEN=garden, KEYS=keys, TRAP_HTTP_EXCEPTIONS=False)
    app.jinja_env.filters.update(day=say_day, short=short_day, degrees=degrees, tight=tight)
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    guard(app, keys)
    for room in (
        today,
        begin,
        air,
        read,
        beds,
        ground,
        crops,
        week,
        materials,
        goes,
        data,
        check,
        share,
    ):
        app.register_blueprint(room.views)

    @app.get("/vendored/<name>")
    def vendored(name: str) -> Response:
        if name not in VENDORED:
            return _told(SENTENCES[404], 404)
        return send_from_directory(data_path("page"), name, max_age=86_400)

    @app.context_processor
    def common() -> dict[str, Any]:
        return {
            "token": g.get("token", ""),
            "partial": _wants_part(),
            "owner": g.get("owner"),
            "shared": bool(keys.guest_key),
        }

    @app.errorhandler(ForecasterError)
    def sorry(error: ForecasterError) -> Answer:
        if request.method == "GET" and (isinstance(error, NoBed) or not garden.exists()):
            return redirect("/begin", 303)
        return _told(sentence_of(error), 503 if isinstance(error, DataMissing) else 422)

    @app.errorhandler(HTTPException)
    def refused(error: HTTPException) -> Response:
        code = error.code or 500
        return _told(SENTENCES.get(code, str(error.description)), code)

    @app.errorhandler(Exception)
    def stray(error: Exception) -> Response:
        shown = error if os.environ.get("CROSSDAY_TRACEBACK") == "1" else None
        said = " ".join(str(error).split())[:LONGEST_SAID]
        app.logger.error("a fault of the page: %s: %s", type(error).__name__, said, exc_info=shown)
        return _told(FAULT, 500)

    return app


def _wants_part() -> bool:
    """Say whether a part of the page is asked for, to be put into one that is there."""
    return request.headers.get("HX-Request") == "true"


def _told(sentence: str, code: int) -> Response:
    """Return a sentence as a page, or as a part of one."""
    named = "sorry_part.html" if _wants_part() else "sorry.html"
    return Response(
        render_template(named, sentence=sentence, back=BACK.get(request.blueprint or "", "/")),
        code,
        mimetype="text/html",
    )
