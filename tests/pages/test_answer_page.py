"""What stands below the form once the sheet was sent: the machine interface's answer, for people."""

from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import event

from api.pages.words import say_percent

if TYPE_CHECKING:
    from tests.pages.conftest import Opener, Page, Site

MEASURED = {"throttle_bore": "19.1 mm", "bolt_spacing": "1 21/32 in ± 0.2 mm", "body_length": "62"}
LOOKED_AT = {"choke_type": "manual_lever", "marking": "7?8-21B"}
QUESTION = {"family": "carburetor", **MEASURED, **LOOKED_AT}


@pytest.fixture(scope="module")
def page(site: "Site") -> "Page":
    return site.page("/", **QUESTION)


@pytest.fixture(scope="module")
def body(site: "Site") -> dict[str, Any]:
    found: dict[str, Any] = site.client.get("/v1/fits", params=QUESTION).json()
    return found


def test_stored_text_with_markup_shows_as_text(site: "Site") -> None:
    page = site.page("/", family="carburetor", throttle_bore="22", body_length="66")
    names = [tag.get_text() for tag in page.soup.select(".candidate h3")]
    assert "Quillon <b>Q19</b>&\"'<script>alert(1)</script>" in names
    assert page.soup.select(".candidate b > b, .candidate h3 b, script") == []


def test_entered_text_with_markup_shows_as_text(site: "Site") -> None:
    page = site.page("/", family="carburetor", marking='"><script>alert(1)</script>', throttle_bore="19")
    assert page.one("[name=marking]")["value"] == '"><script>alert(1)</script>'
    assert page.soup.select("script") == []


def test_every_candidate_is_shown_with_its_chance_in_figures_words_and_a_bar(
    page: "Page", body: dict[str, Any]
) -> None:
    shown = page.soup.select("article.candidate")
    assert len(shown) == len(body["fits"]) == 6
    by_name = {tag.select("h3")[0].get_text(): tag for tag in shown}
    for fit in body["fits"]:
        tag = by_name[f"{fit['part']['maker']} {fit['part']['number']}"]
        chance = tag.select(".chance")[0].get_text()
        assert say_percent(fit["fit_confidence"]) in chance
        assert len(chance.split()) > 2, "words beside the figure"
        fill = float(str(tag.select(".bar .fill")[0]["width"]))
        assert fill == pytest.approx(fit["fit_confidence"] * 100, abs=0.06)
        assert fit["verdict"] in words_of_class(tag)


def words_of_class(tag: Any) -> list[str]:
    return list(tag["class"])


def test_verdicts_are_told_in_words_with_a_sign(page: "Page") -> None:
    told = {tag.get_text(" ", strip=True) for tag in page.soup.select(".verdict")}
    assert told <= {"✓ Bolts on", "+ Fits with work", "? Uncertain: measure more", "✗ Does not fit"}
    assert len(told) > 1


def test_those_that_do_not_fit_are_folded_away_with_the_reason(page: "Page", body: dict[str, Any]) -> None:
    out = [fit for fit in body["fits"] if fit["verdict"] == "does_not_fit"]
    assert out
    assert len(page.soup.select(".ruled-out article")) == len(out)
    other = next(tag for tag in page.soup.select(".ruled-out article") if "O-540" in tag.get_text())
    assert "Mounting bolt spacing differs:" in other.get_text()
    assert "It cannot be pushed onto the studs." in other.get_text()
    assert "Choke differs: none in place of manual lever. No cold start" in other.get_text()


def test_a_candidate_that_needs_work_says_which(page: "Page") -> None:
    vennor = next(tag for tag in page.soup.select("article") if "V206S" in tag.get_text())
    assert "spacer" in vennor.select(".work")[0].get_text()
    assert "minutes" in vennor.select(".work")[0].get_text()


def test_each_dimension_is_laid_beside_the_removed_parts(page: "Page", body: dict[str, Any]) -> None:
    first = body["fits"][0]
    article = page.one("#fit-1")
    rows = article.select("table tbody tr")
    assert len(rows) == len(first["dimensions"])
    bore = next(row for row in rows if row.th is not None and "Throttle bore" in row.th.get_text())
    texts = [cell.get_text(" ", strip=True) for cell in bore.select("td")]
    assert texts[0] == "✓ agrees"
    assert texts[1].startswith("19.10")
    assert texts[1].endswith("\N{NARROW NO-BREAK SPACE}in")
    assert texts[3] == "\N{MINUS SIGN}0.1\N{NARROW NO-BREAK SPACE}mm"
    assert texts[4] == "\N{MINUS SIGN}1 to +1\N{NARROW NO-BREAK SPACE}mm"


def test_how_every_entry_was_read_is_told_in_millimetres_and_inches(page: "Page") -> None:
    rows = [
        [cell.get_text() for cell in row.select("th, td")] for row in page.soup.select("table.read tbody tr")
    ]
    assert len(rows) == len(MEASURED) + 1
    spacing = next(row for row in rows if row[0] == "Mounting bolt spacing")
    assert spacing[1].startswith("1 21/32 in")
    assert spacing[2].replace("\N{NARROW NO-BREAK SPACE}", " ") == "42.07 mm ± 0.20"
    assert spacing[3].replace("\N{NARROW NO-BREAK SPACE}", " ") == "1.6563 in"


def test_what_to_measure_next_leads_to_its_field(page: "Page", body: dict[str, Any]) -> None:
    links = [str(link["href"]) for link in page.soup.select(".next ol a")]
    assert links == [f"#f-{step['key']}" for step in body["measure_next"]]
    assert page.soup.select(".unproved a[href='#f-throttle_lever_side']")


def test_warnings_and_the_chance_of_nothing_are_shown(page: "Page", body: dict[str, Any]) -> None:
    assert [item.get_text() for item in page.soup.select(".warnings li")] == body["warnings"]
    assert body["warnings"]
    assert say_percent(body["nothing_on_file_fits"]) in page.one(".nothing p").get_text()
    assert page.one(".nothing .bar")["aria-label"]


def test_that_nothing_on_file_fits_is_said_first_where_it_is_likely(site: "Site") -> None:
    page = site.page("/", family="carburetor", throttle_bore="33", bolt_spacing="71", body_length="99")
    assert page.words(".headline").startswith("Probably nothing on file fits")


def test_a_number_on_file_is_named_as_evidence(page: "Page") -> None:
    assert any("marking" in tag.get_text() for tag in page.soup.select("#fit-1 .evidence"))


def test_a_stand_in_for_the_known_number_is_named_as_one(open_site: "Opener") -> None:
    site = open_site()
    site.add_part("Brackwell", "BK-208", "oem", {"throttle_bore": 19.0})
    said = {"from_number": "BK-208", "to_number": "708-21B", "relation": "same_as", "confidence": 0.9}
    assert site.client.post("/v1/interchange", json=said).status_code == 201
    page = site.page("/", family="carburetor", throttle_bore="19", known_number="708-21B")
    evidence = [tag.get_text() for tag in page.soup.select("#fit-1 .evidence")]
    shown = f"Its number may stand in for the known one ({say_percent(0.9)} by the statements on file)."
    assert any(shown in text for text in evidence)


def test_what_its_design_has_is_told_where_a_sheet_is_silent_or_stands_against_it(
    open_site: "Opener",
) -> None:
    site = open_site()
    sizes = {"throttle_bore": 19.0, "bolt_spacing": 42.0, "body_length": 62.0, "bowl_depth": 47.0}
    sizes |= {"air_inlet_diameter": 30.0, "fuel_inlet_diameter": 6.2, "throttle_link_hole_radius": 21.0}
    for place in range(8):
        site.add_part("Ostler", f"O-{place}", "oem", sizes)
    silent = {key: size for key, size in sizes.items() if key != "bowl_depth"}
    site.add_part("Vennor", "V-1", "oem", silent | {"bolt_spacing": 24.0})
    for scale in (0.7, 0.8, 0.9, 1.1, 1.2, 1.3):
        other = {key: round(size * scale, 1) for key, size in sizes.items()}
        site.add_part("Quillon", f"Q-{scale}", "oem", other)
    page = site.page(
        "/", family="carburetor", throttle_bore="19", body_length="62", fuel_inlet_diameter="6.2"
    )
    article = next(tag for tag in page.soup.select("article") if "V-1" in tag.get_text())
    listed = [" ".join(cell.get_text(" ").split()) for cell in article.select("td[data-label=Listed]")]
    spacing, bowl = sorted(text for text in listed if "its design has" in text)
    assert "its design has 47.0" in bowl
    assert spacing.startswith("24.0")
    assert "its design has 42.0" in spacing


def test_the_same_answer_is_offered_as_csv_and_json(site: "Site", page: "Page", body: dict[str, Any]) -> None:
    csv, json = (str(link["href"]) for link in page.soup.select(".same a"))
    assert site.client.get(json).json() == body
    assert site.client.get(csv).headers["content-type"].startswith("text/csv")


def test_the_page_asks_the_database_as_often_for_many_parts_as_for_few(open_site: "Opener") -> None:
    site = open_site()
    counts = []
    for size in (2, 12):
        for number in range(size):
            site.add_part("Ostler", f"{size}-{number}", "oem", {"throttle_bore": 19.0, "bolt_spacing": 42.0})
        site.page("/", **QUESTION)
        statements: list[str] = []

        def note(*seen: Any, kept: list[str] = statements) -> None:
            kept.append(str(seen[2]))

        event.listen(site.app.state.engine, "before_cursor_execute", note)
        site.page("/", **QUESTION)
        event.remove(site.app.state.engine, "before_cursor_execute", note)
        counts.append(len(statements))
    assert counts[0] == counts[1]
    assert 0 < counts[0] <= 10


def test_it_is_said_when_measuring_more_would_change_nothing(page: "Page", body: dict[str, Any]) -> None:
    sentence = "Measuring more would hardly change which part to take."
    told = [tag.get_text() for tag in page.soup.select(".enough")]
    assert told == ([sentence] if body["enough_measured"] else [])


def test_the_lines_that_only_make_the_sum_up_are_no_evidence_on_the_page(page: "Page") -> None:
    evidence = " ".join(tag.get_text() for tag in page.soup.select(".evidence"))
    assert "Before measuring" not in evidence
    assert "Not recorded" not in evidence
