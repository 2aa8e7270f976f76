"""The only place where bytes come in: every address checked, every body measured as it arrives."""

from __future__ import annotations

import json
import threading
import time
import zlib
from datetime import UTC, datetime
from typing import Any

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import HTTPError

from forecaster.fetch.ask import (
    TRY_AGAIN,
    NoAnswer,
    Refused,
    Request,
    check_url,
    is_page,
    retry_after,
    spoken,
)

PIECE_BYTES = 64 * 1024
LARGEST_COMPLAINT_BYTES = 64 * 1024
CONNECT_S, SILENCE_S, WHOLE_BODY_S = 10.0, 30.0, 300.0


class Guard(HTTPAdapter):
    """Sends one request, reads its body within bounds, and refuses what is not as announced.

    A body that passes is left in the response trimmed and packed (zlib), ready to be kept.
    """

    def __init__(
        self,
        base: str | None = None,
        *,
        silence_s: float = SILENCE_S,
        whole_s: float = WHOLE_BODY_S,
    ) -> None:
        super().__init__(max_retries=0, pool_connections=2, pool_maxsize=1)
        self._base, self._silence_s, self._whole_s = base, silence_s, whole_s
        self.asked: Request | None = None
        self.sent = 0

    def send(  # noqa: PLR0917 - as HTTPAdapter has it
        self,
        request: requests.PreparedRequest,
        stream: bool = False,  # noqa: ARG002 - bodies are always read piece by piece here
        timeout: Any = None,  # noqa: ARG002
        verify: bool | str = True,
        cert: Any = None,
        proxies: Any = None,
    ) -> requests.Response:
        """Send a request to a listed host, and return its answer with the body read."""
        check_url(request.url or "", self._base)
        if not verify:
            raise Refused("refused to connect without verifying the server's certificate")
        asked = self.asked
        if asked is None:
            raise Refused("refused to send a request that was not asked for")
        self.sent += 1
        response = super().send(
            request,
            stream=True,
            timeout=(min(CONNECT_S, self._silence_s), self._silence_s),
            verify=verify,
            cert=cert,
            proxies=proxies,
        )
        try:
            body = self._body(response, asked)
        finally:
            response.close()
        response._content = body  # noqa: SLF001 - what requests itself keeps a read body in
        response._content_consumed = True  # noqa: SLF001
        return response

    def _body(self, response: requests.Response, asked: Request) -> bytes:
        """Return the body: packed if it is what was asked for, plain if a complaint."""
        code = response.status_code
        if code == 304 or response.is_redirect:
            return b""
        if code != 200:
            raise _failure(response, self._read(response, LARGEST_COMPLAINT_BYTES, cut=True))
        _refuse_kind(response, asked)
        _refuse_size(response, asked)
        body = self._read(response, asked.largest_bytes)
        if is_page(body):
            raise NoAnswer("answered with a web page instead of data", again=True)
        if complaint := asked.check(body):
            raise NoAnswer(complaint)
        return zlib.compress(asked.trim(body), 6)

    def _read(self, response: requests.Response, most: int, *, cut: bool = False) -> bytes:
        """Read a body, never past `most` bytes or the time allowed."""
        parts, size = [], 0
        start = time.monotonic()
        hurry = threading.Timer(self._whole_s, _stop, (response,))
        hurry.daemon = True
        hurry.start()
        try:
            for part in response.iter_content(PIECE_BYTES):
                parts.append(part)
                size += len(part)
                if size > most:
                    if cut:
                        break
                    raise Refused(f"sent more than {most / 1e6:,.0f} MB; stopped reading")
        except (requests.RequestException, HTTPError, OSError):
            if time.monotonic() - start < self._whole_s:
                raise
        finally:
            hurry.cancel()
        if time.monotonic() - start >= self._whole_s:
            raise NoAnswer(f"was not done after {self._whole_s:g} s")
        if not cut:
            _refuse_cut(response)
        return b"".join(parts)


def _stop(response: requests.Response) -> None:
    """End a body that drips too slowly: the reader's next read fails."""
    stop = getattr(response.raw, "shutdown", None)
    try:
        if stop is not None:
            stop()
    except (OSError, ValueError, RuntimeError):
        return  # it has just ended by itself


def _refuse_kind(response: requests.Response, asked: Request) -> None:
    """Refuse a label that the service never uses; no label is judged by the body alone."""
    label = response.headers.get("Content-Type", "")
    kind = label.split(";")[0].strip().lower()
    if kind and kind not in asked.kinds:
        raise NoAnswer(
            f"answered with {spoken(kind, 40)!r} instead of {asked.kinds[0]!r}",
            again=kind == "text/html",
        )


def _refuse_size(response: requests.Response, asked: Request) -> None:
    announced = response.headers.get("Content-Length", "")
    if announced.isdigit() and int(announced) > asked.largest_bytes:
        raise Refused(
            f"announced {int(announced) / 1e6:,.0f} MB; expected at most "
            f"{asked.largest_bytes / 1e6:,.0f} MB"
        )


def _refuse_cut(response: requests.Response) -> None:
    """Refuse a body shorter than announced; older urllib3 does not by itself."""
    announced = response.headers.get("Content-Length", "")
    if announced.isdigit() and response.raw.tell() != int(announced):
        raise NoAnswer(
            f"sent {response.raw.tell():,} of {int(announced):,} bytes: cut short", again=True
        )


def _failure(response: requests.Response, body: bytes) -> NoAnswer:
    """Return what a status other than 200 means, with the service's own words where it has any."""
    code = response.status_code
    said = _own_words(body)
    words = f"answered {code} {spoken(response.reason or '', 40)}".rstrip()
    words += f" ({said})" if said else ""
    asked_wait = retry_after(response.headers.get("Retry-After"), datetime.now(UTC))
    if asked_wait is not None and code in TRY_AGAIN:
        words += f", asking to wait {asked_wait:,.0f} s"
    return NoAnswer(words, again=code in TRY_AGAIN, wait_s=asked_wait, code=code)


def _own_words(body: bytes) -> str:
    """Return the message in a JSON complaint: NCEI's ``errorMessage``, the NWS's ``detail``."""
    try:
        told = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(told, dict):
        return ""
    words = [told.get(key) for key in ("errorMessage", "detail", "title")]
    errors = told.get("errors")
    if isinstance(errors, list):
        words += [error.get("message") for error in errors if isinstance(error, dict)]
    return spoken("; ".join(w for w in words if isinstance(w, str)))
