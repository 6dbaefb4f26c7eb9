"""What readers type into the search, and how they put a table in order, on the example's site."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select
from windows import Window, press, tab_to, text_of, wait_for, wait_until

from sitegen.pipeline import Built

POINTS = "#table-points-pce"


@pytest.fixture
def window(browser: WebDriver, built: Built) -> Iterator[Window]:
    """Show the example's site; every test ends without a console message or an outside request."""
    shown = Window(browser, built.out / "site")
    shown.console()
    shown.outside_requests()
    yield shown
    assert shown.console() == []
    assert shown.outside_requests() == []


def found(driver: WebDriver, words: str) -> list[str]:
    """Return where the results of a search lead, best first."""
    field = driver.find_element(By.ID, "find-words")
    driver.execute_script("arguments[0].value = ''; document.querySelector('.find-state').textContent = ''", field)
    field.send_keys(words)
    text_of(driver, ".find-state", "result")
    links = driver.find_elements(By.CSS_SELECTOR, ".find-list a")
    return [str(link.get_attribute("href")).rpartition("/site/")[2] for link in links]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("perc", "compounds/pce.html"),
        ("PCE", "compounds/pce.html"),
        ("127-18-4", "compounds/pce.html"),
        ("perchloroethylene", "compounds/pce.html"),
        ("TB-2", "samplers/0047163.html"),
        ("0047154", "samplers/0047154.html"),
        ("RB-1", "bags/RB-1.html"),
        ("SH-R1", "shipments/SH-R1.html"),
        ("sg-37", "locations/SG-37.html"),
        ("04417-054", "sources/04417-054.html"),
        ("risk", "index.html"),
        ("vapor intrusion", "air.html"),
        ("chain of custody", "custody.html"),
    ],
)
def test_a_word_of_the_trade_or_a_code_leads_to_its_page_first(window: Window, words: str, first: str) -> None:
    """The page of a code, and of a compound by the name in use, is the first result."""
    assert found(window.open("findings.html"), words)[0] == first


def test_risk_leads_to_the_summary_and_to_air(window: Window) -> None:
    """Both pages come before all that hold the word somewhere."""
    assert found(window.open("index.html"), "risk")[:2] == ["index.html", "air.html"]


def test_pages_come_before_their_sections(window: Window) -> None:
    """Of results that fit alike, those with a place within a page come after whole pages."""
    places = found(window.open("index.html"), "0047154")
    sections = ["#" in place for place in places]
    assert sections == sorted(sections)
    assert True in sections


def test_a_search_without_a_result_offers_pages_to_begin_with(window: Window) -> None:
    """What was typed is repeated as text, and links to the main pages follow."""
    driver = window.open("locations/SG-01.html")
    assert "index.html" in found(driver, "<b>nowhere")
    assert "No result for “<b>nowhere”" in text_of(driver, ".find-state")


def test_the_search_is_worked_by_keyboard_alone(window: Window) -> None:
    """Arrow keys go down and back up, Escape closes the list and leaves the words."""
    driver = window.open("index.html")
    tab_to(driver, "#find-words", 6)
    press(driver, *"perc")
    text_of(driver, ".find-state", "results")
    assert "Tetrachloroethene" in press(driver, Keys.ARROW_DOWN).text
    assert press(driver, Keys.ARROW_UP).get_attribute("id") == "find-words"
    press(driver, Keys.ARROW_DOWN, Keys.ESCAPE)
    output = driver.find_element(By.ID, "find-output")
    wait_for(driver, lambda _: not output.is_displayed())
    assert driver.switch_to.active_element.get_attribute("value") == "perc"


def results(driver: WebDriver) -> list[str]:
    """Return the results of the table of points in the order on show, without their marks."""
    script = """
      const at = document.querySelector(arguments[0] + ' [data-key="result"]').cellIndex;
      const rows = [...document.querySelectorAll(arguments[0] + ' tbody tr')];
      return rows.map((row) => row.cells[at].firstChild.textContent);
    """
    return [str(text) for text in driver.execute_script(script, POINTS)]


def amount(text: str) -> tuple[float, bool]:
    """Return a result as a number, and whether it is one: a non-detect comes before a result of its limit."""
    return float(text.lstrip("<").split()[0].replace(",", "")), not text.startswith("<")


def test_a_column_head_orders_the_rows_by_number(window: Window) -> None:
    """``<10`` comes below 10, qualified and scientific values by their number; the head says the order."""
    driver = window.open("compounds/pce.html")
    listed = results(driver)
    head = driver.find_element(By.CSS_SELECTOR, f'{POINTS} [data-key="result"]')
    button = head.find_element(By.TAG_NAME, "button")
    button.send_keys(Keys.ENTER)
    wait_for(driver, lambda _: head.get_attribute("aria-sort"), lambda said: said == "ascending")
    assert results(driver) == sorted(listed, key=amount)
    assert {text[0] for text in listed} >= {"<"}
    assert any(text.endswith(" E") for text in listed)
    assert any("E+" in text for text in listed)
    button.send_keys(Keys.ENTER)
    wait_for(driver, lambda _: head.get_attribute("aria-sort"), lambda said: said == "descending")
    assert [amount(text) for text in results(driver)] == sorted(map(amount, listed), reverse=True)
    button.send_keys(Keys.ENTER)
    wait_for(driver, lambda _: head.get_attribute("aria-sort"), lambda said: said is None)
    assert results(driver) == listed


def test_back_takes_back_the_order_and_the_filter(window: Window) -> None:
    """Each choice is a step of the window's history, and its address opens the same view."""
    driver = window.open("findings.html")
    order = "document.querySelector('[aria-sort]')?.dataset.key"
    Select(driver.find_element(By.XPATH, "//label[starts-with(., 'Severity')]/select")).select_by_value("Flag")
    driver.find_element(By.CSS_SELECTOR, "#table-findings th[data-key=about] button").click()
    wait_until(driver, f"{order} === 'about'")
    address, few = driver.current_url, text_of(driver, ".filter-state")
    assert " of " in few
    driver.back()
    wait_until(driver, f"{order} === undefined")
    assert text_of(driver, ".filter-state") == few
    driver.back()
    wait_for(driver, lambda page: text_of(page, ".filter-state"), lambda said: " of " not in said)
    opened = window.open(address.rpartition("/")[2])
    wait_until(opened, f"{order} === 'about'")
    assert text_of(opened, ".filter-state") == few
    opened.find_element(By.CSS_SELECTOR, ".table-reset").click()
    wait_until(opened, f"{order} === undefined")
    assert "#" not in opened.current_url


def test_an_address_that_names_nothing_of_the_table_leaves_it_as_listed(window: Window) -> None:
    """A column or a value that is not there changes nothing and breaks nothing."""
    driver = window.open("findings.html#view:table-findings.sort=nonsense&table-findings.severity=Odd&x.y=1")
    assert " of " not in text_of(driver, ".filter-state")
    assert driver.find_elements(By.CSS_SELECTOR, "[aria-sort]") == []


def test_the_air_table_is_cards_on_a_phone_and_folds(window: Window) -> None:
    """At 390 px each row is a card under its head, values beside their titles, the rest a button away."""
    driver = window.open("air.html", 390, 800)
    rows = driver.find_elements(By.CSS_SELECTOR, "#table-screening tbody tr")
    shown = [row for row in rows if row.is_displayed()]
    assert 0 < len(shown) < len(rows)
    head, value = shown[0].find_element(By.TAG_NAME, "th"), shown[0].find_elements(By.TAG_NAME, "td")[-1]
    assert head.rect["y"] + head.rect["height"] <= value.rect["y"] + 1
    before = driver.execute_script("return getComputedStyle(arguments[0], '::before').content", value)
    assert "Ratio" in before
    sticky = "return [...document.querySelectorAll('article *')].filter((one) => one.checkVisibility()"
    sticky += " && getComputedStyle(one).position === 'sticky' && one.closest('.stacks')).length"
    assert driver.execute_script(sticky) == 0
    driver.find_element(By.CSS_SELECTOR, "#table-screening .more-rows").click()
    wait_for(driver, lambda _: all(row.is_displayed() for row in rows))


def test_cards_are_ordered_by_a_list_on_a_phone(window: Window) -> None:
    """Where no head is on show a list of the columns orders the rows."""
    driver = window.open("compounds/pce.html", 390, 800)
    chooser = driver.find_element(By.CSS_SELECTOR, f"{POINTS} .order select")
    assert chooser.is_displayed()
    Select(chooser).select_by_index(4)
    assert "descending" in Select(chooser).first_selected_option.text
    wait_until(driver, "location.hash.includes('sort=-')")


def test_the_heat_table_is_one_tab_stop(window: Window) -> None:
    """Of its links and heads one is a stop of the Tab key; arrow keys reach the others."""
    driver = window.open("heat.html")
    stops = "return document.querySelectorAll('#table-heat .table-region[tabindex], #table-heat .data :is(a, button)"
    assert driver.execute_script(f'{stops}:not([tabindex="-1"])\').length') == 1
    first = tab_to(driver, "#table-heat tbody a")
    assert first.text.startswith("S")
    right = press(driver, Keys.ARROW_RIGHT)
    assert right.find_element(By.XPATH, "..").tag_name == "td"
    assert press(driver, Keys.ARROW_LEFT) == first
    assert press(driver, Keys.ARROW_UP).tag_name == "button"


def test_one_group_of_the_contents_is_open(window: Window) -> None:
    """The group of the page on show is open and the page is the current one; a point's page leads to its list."""
    driver = window.open("heat.html")
    every = "return [...document.querySelectorAll('#site-nav {}')].map((one) => {})"
    opened = every.format("details[open] > summary", "one.textContent")
    current = every.format("[aria-current]", "[one.textContent, one.ariaCurrent]")
    assert driver.execute_script(opened) == ["Results"]
    assert driver.execute_script(current) == [["Heat table", "page"]]
    driver.find_element(By.XPATH, "//summary[.='Quality']").click()
    wait_for(driver, lambda page: page.execute_script(opened), lambda names: names == ["Quality"])
    assert window.open("locations/SG-37.html").execute_script(current) == [["Locations", "true"]]


def test_the_contents_are_a_drawer_on_a_phone(window: Window) -> None:
    """It covers the height of the window, Escape closes it, and the focus is back on its button."""
    driver = window.open("findings.html", 390, 800)
    button = driver.find_element(By.CSS_SELECTOR, ".menu-button")
    button.click()
    nav = driver.find_element(By.ID, "site-nav")
    wait_for(driver, lambda _: nav.is_displayed())
    assert nav.rect["height"] >= 800
    assert driver.switch_to.active_element.text == "Findings"
    press(driver, Keys.ESCAPE)
    wait_for(driver, lambda _: not nav.is_displayed())
    assert driver.switch_to.active_element == button
