"""Read what a PDF draws, as a ruler on the print would: pages, lines and text sizes in points.

A point is 1/72 in (ISO 32000-1, 8.3.2.3, default user space). Enough of the standard for drawings:
content streams, the current matrix (`cm`, `q`, `Q`), paths (`m`, `l`, `h`), fills (`rg`), and text
(`BT`, `Tf`, `Td`, `Tm`, `Tj`, `TJ`).
"""

import re
import zlib
from dataclasses import dataclass, field

import numpy as np

TOKEN = re.compile(rb"\((?:\\.|[^()\\])*\)|<[0-9A-Fa-f\s]*>|/[^\s/\[\]()<>]+|\[|\]|[^\s\[\]()<>/]+")


@dataclass
class Drawn:
    """What a page draws."""

    size: tuple[float, float] = (0.0, 0.0)
    segments: list[tuple[float, float, float, float]] = field(default_factory=list)
    fills: set[tuple[float, ...]] = field(default_factory=set)
    texts: list[tuple[str, float, float, float]] = field(default_factory=list)
    """Words, their size, and where they begin."""

    def across(self) -> np.ndarray:
        """Lengths of level lines, points."""
        return np.array([abs(x2 - x1) for x1, y1, x2, y2 in self.segments if abs(y2 - y1) < 1e-3])


def pages_of(pdf: bytes) -> list[Drawn]:
    """Return what each page of a PDF draws, in order."""
    objects = {int(n): body for n, body in re.findall(rb"(?s)\b(\d+) 0 obj\b(.*?)\bendobj", pdf)}
    pages = []
    for body in objects.values():
        if re.search(rb"/Type\s*/Page\b", body):
            box = re.search(rb"/MediaBox\s*\[([^\]]*)\]", body)
            assert box
            _, _, wide, tall = (float(v) for v in box[1].split())
            (at,) = re.findall(rb"/Contents\s+(\d+) 0 R", body)
            drawn = Drawn((wide, tall))
            _read(_stream(objects[int(at)]), drawn)
            pages.append(drawn)
    return pages


def _stream(body: bytes) -> bytes:
    start = body.index(b"stream") + 6
    start += 2 if body[start : start + 2] == b"\r\n" else 1
    data = body[start : body.rindex(b"endstream")]
    return zlib.decompressobj().decompress(data) if b"/FlateDecode" in body[:start] else data


def _read(content: bytes, drawn: Drawn) -> None:
    """Carry out a content stream: numbers and words gather until an operator takes them."""
    page, numbers, words = _Page(drawn), [], ""
    for token in TOKEN.findall(content):
        word = token.decode("latin-1")
        if word.startswith("("):
            words += word[1:-1]
        elif re.fullmatch(r"[-+.\d]+", word):
            numbers.append(float(word))
        elif word not in ("[", "]") and not word.startswith(("/", "<")):
            page.state(word, numbers)
            page.write(word, numbers, words)
            page.path(word, numbers)
            numbers, words = [], ""


class _Page:
    """Where drawing has come to on a page."""

    def __init__(self, drawn: Drawn) -> None:
        self.drawn = drawn
        self.matrix, self.text, self.kept = np.eye(3), np.eye(3), []
        self.at = self.start = (0.0, 0.0)
        self.font = 0.0

    def state(self, word: str, numbers: list[float]) -> None:
        if word == "q":
            self.kept.append(self.matrix)
        elif word == "Q":
            self.matrix = self.kept.pop()
        elif word == "cm":
            self.matrix = _of(numbers) @ self.matrix
        elif word == "rg":
            self.drawn.fills.add(tuple(round(v, 3) for v in numbers[-3:]))

    def write(self, word: str, numbers: list[float], words: str) -> None:
        if word == "BT":
            self.text = np.eye(3)
        elif word == "Tm":
            self.text = _of(numbers)
        elif word == "Td":
            self.text = _of([1.0, 0.0, 0.0, 1.0, *numbers[-2:]]) @ self.text
        elif word == "Tf":
            self.font = numbers[-1]
        elif word in ("Tj", "TJ"):
            whole = self.text @ self.matrix
            size = self.font * float(abs(np.linalg.det(whole[:2, :2]))) ** 0.5
            self.drawn.texts.append((words, size, float(whole[2, 0]), float(whole[2, 1])))

    def path(self, word: str, numbers: list[float]) -> None:
        if word == "m":
            self.at = self.start = (numbers[-2], numbers[-1])
        elif word in ("l", "h"):
            to = self.start if word == "h" else (numbers[-2], numbers[-1])
            (x1, y1, _), (x2, y2, _) = (np.array([*p, 1.0]) @ self.matrix for p in (self.at, to))
            self.drawn.segments.append((float(x1), float(y1), float(x2), float(y2)))
            self.at = to


def _of(numbers: list[float]) -> np.ndarray:
    a, b, c, d, e, f = numbers[-6:]
    return np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]])
