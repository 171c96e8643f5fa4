"""The page in a real browser: opens from a file, asks nobody, works by mouse and keyboard, on any screen."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audit.report.html.render import to_html
from tests.evidence import song, stem
from tests.report.browser import Visit, axe_source, chromium
from tests.report.samples import HOSTILE, audit_of, clean_audit, finding, hostile_audit

DEMO = Path(__file__).parents[2] / "reports" / "demo.html"
SIZES = {"desk": (1440, 900), "tablet": (820, 1180), "phone": (390, 844)}
LOOKS = [(size, scheme) for size in SIZES for scheme in ("light", "dark")]

TAGS = '<script>alert(1)</script>"><img src=x onerror=alert(2)>'


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as started:
        yield started


@pytest.fixture
def visit(browser, request) -> Iterator[Any]:
    """Opens a page: visit(path, size, scheme)."""
    contexts = []

    def opened(path: Path = DEMO, size: str = "desk", scheme: str = "light") -> Visit:
        wide, high = SIZES[size]
        context = browser.new_context(viewport={"width": wide, "height": high}, color_scheme=scheme)
        contexts.append(context)
        return Visit(context.new_page(), path)

    yield opened
    for context in contexts:
        context.close()


def written(tmp_path: Path, audit: Any) -> Path:
    path = tmp_path / "page.html"
    path.write_text(to_html(audit), encoding="utf-8")
    return path


def names(here: Visit) -> list[str]:
    """Of the songs that are shown; inner texts of what is off the screen are not rendered."""
    return here.page.locator("article.song:not([hidden]) h3").all_text_contents()


@pytest.mark.parametrize(("size", "scheme"), LOOKS)
def test_it_opens_without_a_word_of_complaint_and_asks_nobody(visit, size, scheme):
    here = visit(DEMO, size, scheme)
    here.page.get_by_role("button", name="Open all faults").click()
    here.page.mouse.wheel(0, 4000)
    assert here.said == []
    assert here.asked == [here.address]


@pytest.mark.parametrize(("size", "scheme"), LOOKS)
def test_nothing_is_wider_than_the_screen(visit, size, scheme):
    here = visit(DEMO, size, scheme)
    here.page.get_by_role("button", name="Open all faults").click()
    wide = here.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= SIZES[size][0]


@pytest.mark.parametrize("size", SIZES)
def test_the_answer_and_the_first_thing_to_fix_need_no_scrolling(visit, size):
    here = visit(DEMO, size)
    for words in ("Not ready.", "Click bleed"):
        box = here.page.get_by_text(words, exact=True).first.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < SIZES[size][1]


@pytest.mark.parametrize("size", SIZES)
def test_songs_are_found_by_name_and_by_stem(visit, size):
    here = visit(DEMO, size)
    assert len(names(here)) == 8
    here.page.locator("#find").fill("vocal V2")
    assert names(here) == ["08 - Postcards to the Weather Ship"]
    assert here.page.locator("tr[data-song]:visible").count() == 1
    assert here.page.locator("#shown").inner_text() == "1 of 8 songs"
    here.page.locator("#find").fill("gravel")
    assert names(here) == ["03 - Gravel Parade"]
    here.page.locator("#find").fill("no such song")
    assert names(here) == []
    here.page.locator("#find").fill("")
    assert len(names(here)) == 8


def test_songs_are_chosen_by_verdict(visit):
    here = visit()
    here.page.locator("#which").select_option("clear")
    assert names(here) == ["01 - Ninety Harbour Steps", "05 - Orchard on Wheels"]
    here.page.locator("#which").select_option("error")
    assert len(names(here)) == 6


def test_songs_are_sorted(visit):
    here = visit()
    assert names(here)[0] == "04 - Velvet Signal Box"  # the worst
    here.page.locator("#order").select_option("show")
    assert names(here) == sorted(names(here))
    rows = here.page.locator("tr[data-song] th").all_text_contents()
    assert rows == sorted(rows)
    here.page.locator("#order").select_option("loudness")
    assert names(here)[0] == "04 - Velvet Signal Box"
    here.page.locator("#order").select_option("length")
    assert names(here)[0] == "01 - Ninety Harbour Steps"
    here.page.locator("#order").select_option("fault")
    assert names(here)[0] == "04 - Velvet Signal Box"


def until(here, condition: str, seconds: float = 10.0) -> None:
    """Wait for a condition of the page. Playwright's own way evaluates strings, which the page forbids."""
    ends = time.monotonic() + seconds
    while not here.page.evaluate(condition):
        assert time.monotonic() < ends, condition
        here.page.wait_for_timeout(20)


@pytest.mark.parametrize("size", SIZES)
def test_a_fault_clicked_in_the_picture_is_enlarged(visit, size):
    here = visit(DEMO, size)
    here.page.locator("#s3 .band a[aria-label*=Dropout]").click()
    fault = here.page.locator("#s3 .fault > details[open]")
    until(here, "document.querySelectorAll('#s3 .fault > details[open]').length === 1")
    assert "Dropout" in fault.locator("> summary").inner_text()
    assert "linear prediction" not in fault.inner_text()  # how it is measured is a fold of its own
    fault.locator(".how > summary").click()
    assert "linear prediction" in fault.inner_text()
    box = fault.locator(".wave").first.bounding_box()
    assert box is not None
    assert box["width"] > 0.6 * min(SIZES[size][0], 1000)
    assert "limit 2 ms" in fault.inner_text()
    assert "On stage" in fault.inner_text()
    until(here, "document.activeElement.tagName === 'SUMMARY'")


def test_everything_is_reached_and_worked_by_keyboard(visit):
    here = visit()
    seen = []
    for _ in range(400):
        here.page.keyboard.press("Tab")
        focused = here.page.evaluate(
            "(() => { const e = document.activeElement; return e.id || e.tagName + ' ' + "
            "(e.getAttribute('href') || '') })()"
        )
        if focused in seen[:1] and len(seen) > 50:
            break
        seen.append(focused)
    assert {"find", "which", "order", "open"} <= set(seen)
    assert sum(one.startswith("SUMMARY") for one in seen) >= 21 + 8  # faults and lists of stems
    marks = here.page.locator(".band a").count()
    assert marks
    assert sum(one.startswith("a #") for one in seen) == marks
    here.page.locator("#s3 .fault summary").first.focus()
    here.page.keyboard.press("Enter")
    assert here.page.locator("#s3 .fault details").first.get_attribute("open") is not None
    here.page.locator("#s3 .band a").first.focus()
    here.page.keyboard.press("Enter")
    until(here, "document.activeElement.tagName === 'SUMMARY'")


def test_a_link_to_a_song_that_is_filtered_away_shows_it_again(visit):
    here = visit()
    here.page.locator("#which").select_option("clear")
    here.page.locator(".first a").first.click()
    until(here, "document.querySelectorAll('article.song:not([hidden])').length === 8")


def test_a_stems_shape_is_drawn_when_its_list_is_opened(visit):
    here = visit()
    stems = here.page.locator("#s1 .stems")
    assert stems.locator("svg path").count() == 0
    stems.locator("summary").click()
    until(here, "document.querySelectorAll('#s1 .stems svg path').length === 9")


def test_paper_gets_all_faults_and_no_controls(visit):
    here = visit()
    here.page.emulate_media(media="print")
    assert not here.page.locator(".controls").is_visible()
    assert here.page.locator(".fault .cure").first.is_visible()
    white = here.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert white == "rgb(255, 255, 255)"
    assert here.page.pdf(format="A4").startswith(b"%PDF-")


def test_dark_is_dark(visit):
    ground = "getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)"
    assert max(visit(DEMO, "desk", "dark").page.evaluate(ground)) < 64
    assert min(visit(DEMO, "desk", "light").page.evaluate(ground)) > 192


@pytest.mark.parametrize(("size", "scheme"), [("desk", "light"), ("desk", "dark"), ("phone", "light")])
def test_axe_finds_nothing_serious(visit, size, scheme):
    """axe-core by Deque Systems: the checks of WCAG 2.x that a machine can make."""
    here = visit(DEMO, size, scheme)
    here.page.get_by_role("button", name="Open all faults").click()
    here.page.evaluate(axe_source())
    ask = "axe.run().then(r => r.violations.map(v => [v.impact, v.id, v.nodes[0].html]))"
    found = here.page.evaluate(ask)
    assert [one for one in found if one[0] in ("serious", "critical")] == []


def test_it_cannot_be_made_to_ask_for_anything(visit):
    """What a hostile name could try if it ever got through the escaping."""
    here = visit()
    refused = here.page.evaluate(
        """async () => {
          const refused = [];
          const heard = (event) => refused.push(event.effectiveDirective);
          document.addEventListener("securitypolicyviolation", heard);
          const image = document.createElement("img");
          image.src = "https://stems.invalid/x.png";
          image.setAttribute("onerror", "window.ran = 1");
          document.body.append(image);
          const script = document.createElement("script");
          script.textContent = "window.ran = 2";
          document.body.append(script);
          await fetch("https://stems.invalid/").catch(() => 0);
          await new Promise((done) => setTimeout(done, 200));
          return [refused.map((one) => one.replace(/-(elem|attr)$/, "")), window.ran || 0];
        }"""
    )
    assert set(refused[0]) >= {"img-src", "script-src", "connect-src"}
    assert refused[1] == 0
    assert here.asked == [here.address]


def test_hostile_names_are_words_and_nothing_else(visit, tmp_path):
    here = visit(written(tmp_path, hostile_audit()))
    assert here.said == []
    assert here.dialogs == []
    assert len(names(here)) == len(HOSTILE)
    assert "Song [bold red]Bass[/bold red].wav" in names(here)
    assert here.page.evaluate("document.documentElement.scrollWidth") <= 1440


def test_tags_in_names_are_words(visit, tmp_path):
    one = song(TAGS, stem(TAGS + ".wav"), stem("=cmd().wav"))
    faults = (finding("dropout", "error", TAGS + ".wav", (TAGS,), message=f"a hole in {TAGS}"),)
    here = visit(written(tmp_path, audit_of(one, findings=faults)))
    assert (here.said, here.dialogs) == ([], [])
    assert names(here) == [TAGS]
    assert here.count("img") == 0
    assert here.count("script") == 1


@pytest.mark.parametrize("size", SIZES)
def test_the_sheet_is_set_as_it_should_be(visit, size):
    here = visit(DEMO.with_name("demo-sheet.html"), size)
    assert (here.said, here.asked) == ([], [here.address])
    assert (
        here.page.evaluate("getComputedStyle(document.querySelector('table')).borderCollapse") == "collapse"
    )
    assert here.page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
    songs = here.page.locator("tbody tr:not(.warning)")
    assert songs.count() == 8
    assert "Not ready: 6 of 8 songs" in here.page.locator(".verdict").inner_text()
    # No width hides a column: what a wide page shows in columns a phone shows under the song.
    for words in ("0:39", "118", "4", "01:00:00:00", "1–3", "% CPU"):
        assert words in songs.first.inner_text()


@pytest.mark.parametrize("size", SIZES)
def test_no_width_hides_a_column(visit, size):
    here = visit(DEMO, size)
    song = here.page.locator(".index tbody tr", has_text="Ninety Harbour Steps")
    for words in ("clear", "0:39", "118", "01:00:00:00", "LUFS", "% CPU"):
        assert words in song.inner_text()
    for cell in song.locator("td").all():
        assert cell.is_visible()


def test_paper_explains_its_marks(visit):
    here = visit(DEMO)
    here.page.emulate_media(media="print")
    assert here.page.locator(".legend").is_visible()
    assert "do not take it on stage" in here.page.locator(".legend").inner_text()


def test_a_clean_show_says_ready(visit, tmp_path):
    here = visit(written(tmp_path, clean_audit()))
    assert here.page.locator("h1").inner_text() == "Ready."
    assert here.count(".first") == 0
    assert here.said == []
