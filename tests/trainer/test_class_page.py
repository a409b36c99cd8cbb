"""The class report opened in a real browser: its console, sorting, filtering, a phone, printing."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.browser import browser, picture
from tests.simulated_class import MADE, NAMES, class_set, skills, taken
from trainer.assignments.result import ChainState, result_text
from trainer.assignments.set_file import set_text
from trainer.chain import Reach
from trainer.class_report.making import make_report

SCRIPT = '<script>document.title="caught"</script><img src=x onerror="document.title=1">'
CLASS = (*NAMES, SCRIPT[:60])


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A class of fifteen over two sets: one missing, one late, one unfinished, one deaf to 125."""
    folder = tmp_path_factory.mktemp("class")
    first = class_set(24, title="Low and low middle")
    second = class_set(40, title="Mud or box", made=MADE + timedelta(days=7), tries=2)
    for made in (first, second):
        (folder / f"{made.id}.toml").write_text(set_text(made))
    assert second.terms.due is not None
    for number, (name, skill) in enumerate(zip(CLASS, skills(len(CLASS)), strict=True)):
        results = [taken(first, name, skill * 0.8, seed=number)]
        if number == 5:
            results.append(taken(second, name, skill, seed=60, started=second.terms.due))
        elif number == 6:
            results.append(taken(second, name, skill, seed=61, answered=20))
        elif number != 3:
            results.append(taken(second, name, skill, seed=50 + number))
        if number == 7:
            reach = tuple(Reach.NOT if band == 2 else Reach.REPRODUCED for band in range(10))
            chain = ChainState("laptop", MADE, -30.0, reach)
            results = [replace(each, chain=chain) for each in results]
        for which, result in enumerate(results):
            (folder / f"{number}-{which}.json").write_text(result_text(result))
    (folder / "junk.json").write_text('{"a":')
    out = folder / "report.html"
    make_report([folder], out, None, None, MADE + timedelta(days=30))
    return out


@pytest.fixture(scope="module")
def shown(page: Path) -> Iterator[Any]:
    with browser() as opened:
        opened.get(page.as_uri())
        yield opened


def column(opened: Any, number: int) -> list[str]:
    """What stands in a column of the newest set's table, from the top, as far as it is shown."""
    cells = opened.execute_script(
        "return [...document.querySelector('table.heat').tBodies[0].rows]"
        ".filter(row => !row.hidden).map(row => row.cells[arguments[0]].innerText)",
        number,
    )
    return [str(cell) for cell in cells]


def click_head(opened: Any, number: int) -> str:
    """Clicks a head of that table; how it says it is sorted."""
    head = opened.find_elements("css selector", "table.heat")[0].find_elements("tag name", "th")
    head[number].find_element("tag name", "button").click()
    return str(head[number].get_attribute("aria-sort"))


def test_the_console_is_free_of_errors(shown: Any, tmp_path: Path) -> None:
    picture(shown, tmp_path, "class_report")
    assert shown.get_log("browser") == []
    assert shown.title == "Class report: Mud or box"


def test_a_script_in_a_name_is_text(shown: Any) -> None:
    assert any(SCRIPT[:60] in name for name in column(shown, 0))
    assert len(shown.find_elements("tag name", "script")) == 1
    assert shown.find_elements("tag name", "img") == []
    assert shown.title.startswith("Class report")


def test_a_click_on_a_head_sorts(shown: Any) -> None:
    def named() -> list[int]:
        return [int(cell.split("/")[0]) for cell in column(shown, 1)]

    assert click_head(shown, 1) == "ascending"
    assert named() == sorted(named())
    assert click_head(shown, 1) == "descending"
    assert named() == sorted(named(), reverse=True)
    assert named()[0] > named()[-1]
    assert click_head(shown, 0) == "ascending"
    names = column(shown, 0)
    assert names.index("Ada Brook") < names.index("Cleo Marsh") < names.index("Nils Thorp")


def test_the_questions_sort_by_share_with_what_has_no_figure_last(shown: Any) -> None:
    table = shown.find_elements("css selector", "table.items")[0]
    table.find_elements("tag name", "th")[6].find_element("tag name", "button").click()
    fooled = [row.find_elements("tag name", "td")[6].text for row in rows_of(table)]
    figures = [int(each) for each in fooled if each]
    assert figures == sorted(figures)
    assert 0 < len(figures) < len(fooled)
    assert all(each == "" for each in fooled[len(figures) :])


def rows_of(table: Any) -> list[Any]:
    return list(table.find_elements("css selector", "tbody tr"))


def test_the_filter_finds_names_and_states(shown: Any) -> None:
    search, state = shown.find_element("id", "search"), shown.find_element("id", "state")
    search.send_keys("BRO")
    assert column(shown, 0) == ["Ada Brook"]
    assert shown.find_element("id", "shown").text == "1 shown"
    search.send_keys("\ue003" * 3)  # WebDriver's code of Backspace
    assert len(column(shown, 0)) == 14
    for word, name in (("late", "Finn Moor"), ("unfinished", "Gro Wick")):
        state.find_element("css selector", f"option[value={word}]").click()
        assert [each.split() for each in column(shown, 0)] == [[*name.split(), word]]
    state.find_element("css selector", "option[value=missing]").click()
    shown_students = shown.execute_script(
        "return [...document.querySelectorAll('details.one')].filter(d => !d.hidden)"
        ".map(d => d.querySelector('summary').firstChild.textContent)"
    )
    assert shown_students == ["Dag Holt"]
    state.find_element("css selector", "option[value='']").click()
    assert len(column(shown, 0)) == 14


def test_a_student_opens_with_a_picture_of_finest_sizes(shown: Any, tmp_path: Path) -> None:
    details = shown.find_element("css selector", "details[data-name='hugo dale']")
    summary = details.find_element("tag name", "summary")
    shown.execute_script("arguments[0].scrollIntoView({block: 'center'})", summary)
    shown.execute_async_script("requestAnimationFrame(() => requestAnimationFrame(arguments[0]))")
    summary.click()
    drawing = details.find_element("tag name", "svg")
    assert drawing.is_displayed()
    assert drawing.size["width"] > 200
    assert len(drawing.find_elements("css selector", "rect.bar")) >= 8
    assert "does not bring: 125 Hz" in details.text
    shown.execute_script("arguments[0].scrollIntoView()", details)
    picture(shown, tmp_path, "class_report_student")


def test_it_is_read_on_a_phone(page: Path, tmp_path: Path) -> None:
    with browser() as opened:
        opened.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": 390, "height": 844, "deviceScaleFactor": 2, "mobile": True},
        )
        opened.get(page.as_uri())
        picture(opened, tmp_path, "class_report_phone")
        width, font = opened.execute_script(
            "return [document.documentElement.scrollWidth,"
            " getComputedStyle(document.body).fontSize]"
        )
        assert width <= 390  # wide tables scroll within themselves
        assert float(font.removesuffix("px")) >= 15
        head = opened.find_element("css selector", "table.heat tbody th")
        table = opened.find_element("css selector", "div.wide")
        opened.execute_script("arguments[0].scrollLeft = 500", table)
        assert head.rect["x"] < 60  # names stay in sight


def test_it_prints_with_every_student_laid_open(page: Path) -> None:
    with browser() as opened:
        opened.get(page.as_uri())
        printed = opened.execute_cdp_cmd("Page.printToPDF", {"printBackground": True})
        data = base64.b64decode(printed["data"])
        assert data.startswith(b"%PDF")
        assert data.count(b"/Type /Page\n") + data.count(b"/Type /Page ") > 4
        opened.execute_script("window.dispatchEvent(new Event('beforeprint'))")
        closed = opened.execute_script(
            "return document.querySelectorAll('details:not([open])').length"
        )
        assert closed == 0


def test_its_inks_can_be_read_on_every_shade(shown: Any) -> None:
    """WCAG 2.2 AA: 4.5:1 for text, worked out from the colours that the browser shows."""
    worst = shown.execute_script(
        """
        const parse = (c) => c.match(/[0-9.]+/g).slice(0, 3).map(Number);
        const light = (c) => parse(c).map((v) => v / 255)
          .map((s) => s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4)
          .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
        const ground = (e) => { while (e) { const c = getComputedStyle(e).backgroundColor;
          if (!/, 0\\)$/.test(c)) return c; e = e.parentElement; } return 'rgb(255,255,255)'; };
        let worst = 21;
        for (const e of document.querySelectorAll('td,th,p,h1,h2,h3,summary,summary .soft,.tag')) {
          if (!e.textContent.trim()) continue;
          const [a, b] = [light(getComputedStyle(e).color), light(ground(e))].sort((x, y) => y - x);
          worst = Math.min(worst, (a + 0.05) / (b + 0.05));
        }
        return worst;
        """
    )
    assert worst >= 4.5
