"""The page: valid, self-contained, in order, safe; and its numbers are those of the commands."""

import json
import re
from dataclasses import replace
from datetime import date
from itertools import pairwise

import html5lib
import pytest

from forecaster import Site, Wish, crop_windows, find_crop, known_crops, read_air
from forecaster.answers.crops import Span
from forecaster.report.bars import crop_bars
from forecaster.words.phrases import MONTHS, percent
from tests.report.conftest import AIR, AUTUMN, BED, HOSTILE, PLACE

KINDS = ("crop", "autumn", "spring", "layout", "hostile", "late", "planted", "rest", "far")


def tree(path):
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(path.read_text(encoding="utf-8"))


@pytest.fixture(params=KINDS)
def page(request, pages):
    return pages[request.param]


class TestForm:
    def test_it_is_valid_for_a_strict_parser(self, page):
        assert tree(page).tag == "html"

    def test_it_says_its_language_width_and_letters(self, page):
        root = tree(page)
        assert root.attrib["lang"] == "en"
        metas = {m.attrib.get("name"): m.attrib.get("content") for m in root.iter("meta")}
        assert metas["viewport"].startswith("width=device-width")
        assert metas["color-scheme"] == "light dark"
        assert [m.attrib["charset"] for m in root.iter("meta") if "charset" in m.attrib] == [
            "utf-8"
        ]
        assert root.find("head/title").text

    def test_headings_are_in_order(self, page):
        levels = [int(e.tag[1]) for e in tree(page).iter() if re.fullmatch("h[1-6]", str(e.tag))]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(b - a <= 1 for a, b in pairwise(levels))

    def test_it_has_landmarks_and_a_way_past_them(self, page):
        root = tree(page)
        assert len(root.findall("body/main")) == 1
        assert len(root.findall("body/header")) == 1
        first = next(iter(root.find("body")))
        assert first.tag == "a"
        assert first.attrib["href"] == "#answer"

    def test_ids_are_single_and_every_reference_leads_somewhere(self, page):
        root = tree(page)
        ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
        assert len(ids) == len(set(ids))
        wanted = set()
        for e in root.iter():
            for name in ("aria-labelledby", "aria-describedby"):
                wanted |= set(e.attrib.get(name, "").split())
            for key, value in e.attrib.items():
                if str(key) == "href" and value.startswith("#"):
                    wanted.add(value[1:])
                wanted |= set(re.findall(r"url\(#([^)]+)\)", value))
        assert wanted <= set(ids)

    def test_every_picture_is_described_or_beside_its_words(self, page):
        for svg in tree(page).iter("svg"):
            if svg.attrib.get("role") == "img":
                assert svg.find("title").text
                assert len(svg.find("desc").text) > 80
            else:
                parent_hides = svg.attrib.get("aria-hidden") == "true" or "x" in svg.attrib
                months = svg.attrib.get("class") == "bar"
                assert parent_hides or months

    def test_tables_have_captions_and_scopes(self, page):
        for table in tree(page).iter("table"):
            assert table.find("caption").text
            assert all("scope" in th.attrib for th in table.iter("th"))

    def test_sections_are_named_by_their_headings(self, page):
        for section in tree(page).iter("section"):
            assert section.find("h2").attrib["id"] == section.attrib["aria-labelledby"]


class TestAlone:
    def test_nothing_is_asked_of_anywhere(self, page):
        text = page.read_text(encoding="utf-8")
        for name in ("src", "href", "action", "data", "poster", "srcset", "formaction"):
            for value in re.findall(rf'[\s:]{name}="([^"]*)"', text):
                assert value.startswith("#") or value == "data:,", value
        assert set(re.findall(r"url\((.)", text)) <= {"#"}
        assert "@import" not in text
        assert "http" not in re.sub(r"http-equiv", "", text)

    def test_there_is_no_script_and_no_handler(self, page):
        root = tree(page)
        names = {str(e.tag) for e in root.iter() if isinstance(e.tag, str)}
        assert not names & {"script", "iframe", "object", "embed", "form", "img", "foreignObject"}
        assert not [k for e in root.iter() for k in e.attrib if str(k).lower().startswith("on")]

    def test_its_own_policy_forbids_what_it_does_not_need(self, page):
        (policy,) = [
            m.attrib["content"] for m in tree(page).iter("meta") if "http-equiv" in m.attrib
        ]
        assert policy.startswith("default-src 'none'")
        assert "script" not in policy

    def test_folders_of_the_owners_disk_are_not_told(self, page):
        assert AIR.rsplit("/", 1)[0] not in page.read_text(encoding="utf-8")

    def test_it_stays_small(self, page):
        assert page.stat().st_size < 700_000


class TestWords:
    def test_the_owners_words_are_shown_as_written(self, pages):
        page = tree(pages["hostile"])
        assert page.find("body/header/h1").text == f"{HOSTILE}, autumn 2026"
        assert "<script" not in pages["hostile"].read_text(encoding="utf-8")
        assert page.find("head/title").text.startswith(HOSTILE)

    def test_the_sentence_stands_first(self, page):
        header = tree(page).find("body/header")
        lead = header.find(".//p[@class='lead']")
        assert len(lead.text) > 30
        assert lead.text[0].isupper()

    def test_this_week_is_two_lines_above_the_answer(self, page):
        (soon,) = tree(page).findall("body/header/div/p[@class='soon']")
        first, second = ("".join(line.itertext()) for line in soon)
        assert first.startswith("This week: ")
        assert second.endswith(".")
        assert "None" not in first + second

    def test_what_a_phone_folds_has_a_label_and_a_box(self, page):
        root = tree(page)
        labels = {e.attrib["for"]: "".join(e.itertext()) for e in root.iter("label")}
        boxes = [e.attrib["id"] for e in root.iter("input")]
        assert sorted(boxes) == sorted(labels)
        assert all(labels.values())
        assert {"later-open", "cautions-open"} <= set(boxes)

    def test_parts_come_in_the_order_that_a_reader_needs(self, pages):
        ids = [s.attrib["id"] for s in tree(pages["layout"]).iter("section")]
        assert ids == [
            "soil", "crops", "week", "later", "buy", "layout", "known", "before", "sources",
            "cautions",
        ]  # fmt: skip

    def test_cautions_are_all_there(self, page, words_of):
        said = words_of(page)
        for words in (
            "call 811", "by its label", "do not breathe the dust", "Lift with care",
            "Local water rules", "local extension service",
        ):  # fmt: skip
            assert words in said

    def test_what_is_assumed_says_how_well_it_is_known(self, pages, words_of):
        said = words_of(pages["autumn"])
        assert "(common practice: flats of cool-season flowers" in said
        assert "days to root (assumption)" in said

    def test_a_check_that_was_not_made_is_not_passed_over(self, pages, words_of):
        assert "Not asked for: --check does it." in words_of(pages["hostile"])

    def test_a_check_by_the_model_alone_says_so(self, pages, words_of):
        assert "WEATHER ONLY" in words_of(pages["autumn"])

    def test_celsius_is_said_where_it_is_asked(self, pages, words_of):
        said = words_of(pages["rest"])
        assert "settles below 18.3 °C" in said


class TestNumbers:
    """The page's numbers are those that the other commands give as JSON."""

    @pytest.fixture
    def said(self, pages, words_of):
        return words_of(pages["crop"])

    def answer(self, call, *words):
        found = call(*words, "--json")
        assert found.exit_code == 0, found.output
        return json.loads(found.stdout)

    def day(self, iso: str, *, short: bool = False) -> str:
        day = date.fromisoformat(iso)
        month = MONTHS[day.month - 1]
        return f"{day.day} {month[:3] if short else month}"

    def test_window(self, said, call):
        found = self.answer(call, "when", AIR, *PLACE, "--today", "2026-03-16")
        window = found["windows"][0]
        assert f"settles below 65 °F about {self.day(window['outlook']['settled_median'])}" in said
        for week in window["outlook"]["settled_by"]:
            if week["probability"] < 0.01:
                continue
            pair = f"by {self.day(week['date'], short=True)}{percent(week['probability'])}"
            assert pair in said
            if week["probability"] >= 0.95:
                break
        assert f"{round(window['so_far']['soil_f'], 1):g} °F" in said

    def test_plan(self, said, call):
        words = (AIR, *PLACE, *AUTUMN, *BED, "--crop", "pansy", "--flat", "36=18.50")
        found = self.answer(call, "plan", *words)
        assert found["answer"].split(": ", 1)[1][1:] in said
        for task in found["tasks"]:
            assert task["title"] in said
            if task["standing"] == "ahead" and task["earliest"] > "2026-03-22":
                days = (self.day(task[k], short=True) for k in ("earliest", "likely", "latest"))
                assert "".join(days) in said
        shopping = found["shopping"]
        assert f"{shopping['plants']} plants at {shopping['spacing_in']:g} in" in said
        (flat,) = shopping["flats"]
        assert f"{flat['flats']} flats of 36 ({flat['left_over']} left over)" in said
        for heap in shopping["bulk"]:
            assert f"{round(heap['volume_yd3'], 2):g} yd³" in said
        assert f"{shopping['watering_in']['volume_gal']:.0f} gal" in said

    def test_crop(self, said, call):
        words = (AIR, *PLACE, "--today", "2026-03-16", "--crop", "pansy")
        found = self.answer(call, "when", *words)
        (crop,) = found["crops"]
        opens, best, closes = (crop[k] for k in ("opens", "best", "closes"))
        assert f"opens {self.day(opens['median'], short=True)}" in said
        assert (
            f"best {self.day(best['median'], short=True)} ({percent(best['probability'])})" in said
        )
        if closes["median"] is None:
            assert "no closing day" in said
        else:
            assert f"until {self.day(closes['median'], short=True)}" in said
        for level in found["frost"]:
            assert self.day(level["last"]["later_50"], short=True) in said

    def test_check(self, said, call):
        words = (AIR, *PLACE, "--today", "2026-03-16", "--crop-class", "cool")
        found = self.answer(call, "check", *words, "--leads", "0,14,28", "--seasons", "10")
        for cell in found["cells"]:
            row = f"{cell['n']}{cell['mae_days']:.1f} days{cell['inside']} of {cell['n']}"
            assert row in said


class TestBars:
    def test_a_bar_lies_where_its_dates_are(self):
        from forecaster.report.bars import Axis  # noqa: PLC0415

        axis = Axis(date(2026, 3, 1), date(2026, 6, 9))
        assert axis.at(date(2026, 3, 1)) == 0.0
        assert axis.at(date(2026, 4, 20)) == 50.0
        assert axis.at(date(2026, 1, 1)) == 0.0
        assert axis.at(date(2027, 1, 1)) == 100.0

    def test_crops_that_share_dates_share_a_bar_and_none_is_lost(self, pages, words_of):
        said = words_of(pages["autumn"])
        figure = said[said.index("When crops can go in") : said.index("The same in numbers")]
        for name in ("Chard", "pansy", "Pansy", "viola", "snapdragon", "parsley", "Pea"):
            assert name.casefold() in figure.casefold()
        bars = re.findall(r'<svg class="bar" aria-hidden', pages["autumn"].read_text("utf-8"))
        cool = [crop for crop in known_crops("cool").values() if crop.kind != "lawn"]
        assert 3 < len(bars) < len(cool)

    def test_a_legend_is_never_without_its_bars(self, pages):
        """It follows the first bars within their figure, which no page of paper cuts."""
        from forecaster.report.style import style_sheet  # noqa: PLC0415

        for path in pages.values():
            for figure in tree(path).find(".//section[@id='crops']").iter("figure"):
                kinds = [child.tag for child in figure]
                assert kinds[:2] == ["ul", "figcaption"]
        paper = style_sheet().partition("@media print")[2]
        assert "#crops figure" in paper.partition("{break-inside:avoid}")[0].rpartition("}")[2]

    def test_crops_without_a_window_are_said_together(self):
        answer = crop_windows(
            read_air(AIR), Site(-36.2, 146.6), [find_crop("okra"), find_crop("pepper")],
            today="2025-09-20", wish=Wish(season="spring"), members=20,
        )  # fmt: skip
        nothing = Span(None, None, None, 0.01, "the soil is too cold")
        none = [replace(w, state="none", opens=nothing) for w in answer.windows]
        assert "Pepper and okra" in crop_bars(none, answer.today)
        assert "figcaption" not in crop_bars(none, answer.today)
        assert "no window is to be expected this spring" in crop_bars(none, answer.today)

    def test_a_season_that_still_runs_is_not_taken_for_the_plans(self, pages, words_of):
        """In March spring's crops would still stand; the plan is for the spring to come."""
        assert "still runs" not in words_of(pages["autumn"])
        far = words_of(pages["far"])
        assert "still runs" not in far
        assert re.search(r"Tomato, set out as plants: opens \d+ (Sep|Oct|Nov)", far)

    def test_every_length_stays_on_the_page(self, page):
        for svg in re.findall(r'<svg class="bar".*?</svg>', page.read_text("utf-8"), re.DOTALL):
            shares = [float(v) for v in re.findall(r'"([\d.]+)%"', svg)]
            assert all(0.0 <= share <= 100.0 for share in shares)
