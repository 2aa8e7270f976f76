"""The only place where bytes come in: every address checked, every body measured as it arrives."""

from __future__ import annotations

import contextlib
import functools
import json
import queue
import threading
import time
import zlib
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import HTTPError, ReadTimeoutError

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
        # The services want no name and no password; a file of such (.netrc) may have some.
        request.headers.pop("Authorization", None)
        self.sent += 1
        end = time.monotonic() + self._whole_s
        send = functools.partial(
            super().send, request, stream=True,
            timeout=(min(CONNECT_S, self._silence_s), self._silence_s),
            verify=verify, cert=cert, proxies=proxies,
        )  # fmt: skip
        response = _within(self._whole_s, send)
        confirms = bool({"If-None-Match", "If-Modified-Since"} & set(request.headers))
        try:
            body = self._body(response, asked, end, confirms=confirms)
        finally:
            response.close()
        response._content = body  # noqa: SLF001 - what requests itself keeps a read body in
        response._content_consumed = True  # noqa: SLF001
        return response

    def _body(
        self, response: requests.Response, asked: Request, end: float, *, confirms: bool
    ) -> bytes:
        """Return the body: packed if it is what was asked for, plain if a complaint."""
        code = response.status_code
        if code == 304 and not confirms:
            raise NoAnswer("answered 304 (not changed) to a new question", again=True)
        if code == 304 or response.is_redirect:
            return b""
        if code != 200:
            complaint = self._read(response, LARGEST_COMPLAINT_BYTES, end, cut=True)
            with contextlib.suppress(NoAnswer, Refused):
                complaint = unpacked(complaint, _packing(response), LARGEST_COMPLAINT_BYTES * 16)
            raise _failure(response, complaint)
        _refuse_kind(response, asked)
        _refuse_size(response, asked)
        packing = _packing(response)
        sent = self._read(response, asked.largest_bytes, end)
        body = unpacked(sent, packing, asked.largest_bytes)
        if is_page(body):
            raise NoAnswer("answered with a web page instead of data", again=True)
        if complaint_words := asked.check(body):
            raise NoAnswer(complaint_words)
        counted = packing or response.headers.get("Content-Length", "").isdigit()
        told = counted or getattr(response.raw, "chunked", False) or asked.ends(body)
        # What is asked for again within hours may go without; what is kept for ever may not.
        if not told and (asked.keep is None or not body.endswith(b"\n")):
            raise NoAnswer("did not say how long its answer is: it may be cut short", again=True)
        return zlib.compress(asked.trim(body), 6)

    def _read(
        self, response: requests.Response, most: int, end: float, *, cut: bool = False
    ) -> bytes:
        """Read a body as it was sent, never past `most` bytes or the time allowed."""
        parts, size = [], 0
        hurry = threading.Timer(max(end - time.monotonic(), 0.0), _stop, (response,))
        hurry.daemon = True
        hurry.start()
        try:
            for part in response.raw.stream(PIECE_BYTES, decode_content=False):
                parts.append(part)
                size += len(part)
                if size > most:
                    if cut:
                        break
                    raise Refused(f"sent more than {most / 1e6:,.0f} MB; stopped reading")
        except (HTTPError, OSError, ValueError) as error:
            if time.monotonic() < end:
                slow = isinstance(error, TimeoutError | ReadTimeoutError)
                what = "did not answer in time" if slow else "broke off in the middle of its answer"
                raise NoAnswer(what, again=True) from error
        finally:
            hurry.cancel()
        if time.monotonic() >= end:
            raise NoAnswer(f"was not done after {self._whole_s:g} s")
        if not cut:
            _refuse_cut(response)
        return b"".join(parts)


def _within(seconds: float, send: Callable[[], requests.Response]) -> requests.Response:
    """Return the answer's beginning; headers that drip do not hold us longer than allowed.

    The library waits for each piece by itself. What comes too late is closed where it comes.
    """
    done: queue.SimpleQueue[requests.Response | BaseException] = queue.SimpleQueue()
    late = threading.Event()

    def work() -> None:
        try:
            found: requests.Response | BaseException = send()
        except BaseException as error:  # noqa: BLE001 - raised again where it is waited for
            found = error
        done.put(found)
        if late.is_set() and isinstance(found, requests.Response):
            found.close()

    threading.Thread(target=work, daemon=True).start()
    try:
        found = done.get(timeout=seconds)
    except queue.Empty:
        late.set()
        raise NoAnswer(f"was not done after {seconds:g} s") from None
    if isinstance(found, BaseException):
        raise found
    return found


def _packing(response: requests.Response) -> str:
    """Return how a body is packed: "" or "gzip"; we asked for nothing else."""
    named = response.headers.get("Content-Encoding", "").strip().lower()
    if named in ("", "identity"):
        return ""
    if named in ("gzip", "x-gzip"):
        return "gzip"
    raise NoAnswer(f"packed its answer as {spoken(named, 20)!r}, which was not asked for")


def unpacked(sent: bytes, packing: str, most: int) -> bytes:
    """Return a body unpacked, never past `most` bytes: whole, its sum right, nothing after it.

    Raises
    ------
    NoAnswer
        If the packed stream is damaged, stops before its end, or is followed by something.
    Refused
        If it is too large.
    """
    if not packing:
        return sent
    engine = zlib.decompressobj(wbits=31)  # with the header and the CRC-32 of RFC 1952
    try:
        body = engine.decompress(sent, most + 1)
    except zlib.error as error:
        raise NoAnswer("sent a packed answer that cannot be unpacked") from error
    if len(body) > most:
        raise Refused(f"sent more than {most / 1e6:,.0f} MB, unpacked; stopped there")
    if not engine.eof:
        raise NoAnswer("sent a packed answer that stops before its end", again=True)
    if engine.unused_data:
        raise NoAnswer("sent something more after its packed answer", again=True)
    return body


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
    """Return the message in a JSON complaint.

    NCEI's ``errorMessage``, the NWS's ``detail``, POWER's ``messages`` (the last from memory).
    """
    try:
        told = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(told, dict):
        return ""
    words = [told.get(key) for key in ("errorMessage", "detail", "title")]
    messages = told.get("messages")
    words += messages if isinstance(messages, list) else []
    errors = told.get("errors")
    if isinstance(errors, list):
        words += [error.get("message") for error in errors if isinstance(error, dict)]
    return spoken("; ".join(w for w in words if isinstance(w, str)))
