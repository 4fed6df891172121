"""Every page as a person and a browser find it: faults, labels, entries, links, nothing inline."""

import re
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from bs4 import Tag

from api import errors, problems
from api.pages.form import DRAWN
from api.pages.routes import STATIC, TEMPLATES, make_environment

if TYPE_CHECKING:
    from tests.pages.conftest import Opener, Page, Site

ROOT = Path(__file__).resolve().parents[2]
MEASURED = {
    "throttle_bore": "19.1 mm",
    "bolt_spacing": "1 21/32 in",
    "marking": "7?8-21B",
    "choke_type": "manual_lever",
}
MISREAD = {"throttle_bore": "19/32", "bolt_spacing": "1900", "choke_type": "banana", "instrument": "thumb"}
ADDRESSES: dict[str, tuple[str, dict[str, Any]]] = {
    "front": ("/", {}),
    "carburetor": ("/", {"family": "carburetor"}),
    "contact_set": ("/", {"family": "contact_set"}),
    "flywheel_key": ("/", {"family": "flywheel_key"}),
    "ignition_coil": ("/", {"family": "ignition_coil"}),
    "rebuild_kit": ("/", {"family": "rebuild_kit"}),
    "spark_plug": ("/", {"family": "spark_plug"}),
    "answered": ("/", {"family": "carburetor", "body_length": "", **MEASURED}),
    "every box": ("/", {"family": "carburetor", "gasket_set": ["mounting_gasket", "tin_foil"], **MEASURED}),
    "faulty": ("/", {"family": "carburetor", "wheels": "4", **MISREAD}),
    "nothing entered": ("/", {"family": "carburetor", "marking": ""}),
    "no such family": ("/", {"family": "<i>windmill</i>"}),
    "problems": ("/problems", {}),
}


def entry(page: "Page", key: str) -> Tag:
    return page.one(f"[name={key}]")


def described(page: "Page", tag: Tag) -> list[str]:
    ids = str(tag.get("aria-describedby", "")).split()
    return [page.words(f"[id='{name}']") for name in ids]


def chosen(tag: Tag) -> list[str]:
    return [str(option["value"]) for option in tag.select("option[selected]")]


# What is refused


def test_each_fault_stands_beside_its_field_and_in_the_list_at_the_head(site: "Site") -> None:
    page = site.page("/", family="carburetor", **MISREAD)
    assert page.status == 422
    for key in MISREAD:
        field = entry(page, key)
        assert field["aria-invalid"] == "true"
        fault = page.words(f"[id='{key}-fault']").removeprefix("✗ ")
        assert any(fault in text for text in described(page, field))
        assert fault in page.words("#trouble")
        assert page.soup.select(f"#trouble a[href='#f-{key}']")
    assert page.one("title").get_text().startswith("To be mended")
    assert page.soup.select("#fits") == []


def test_the_faults_are_those_of_the_machine_interface(site: "Site") -> None:
    page = site.page("/", family="carburetor", **MISREAD)
    body = site.client.get("/v1/fits", params={"family": "carburetor", **MISREAD}).json()
    assert body["status"] == page.status
    assert len(body["errors"]) == len(MISREAD) == len(page.soup.select("#trouble li"))
    for fault in body["errors"]:
        assert fault["detail"] in page.words("#trouble")


def test_the_form_keeps_what_was_entered_wrongly(site: "Site") -> None:
    page = site.page("/", family="carburetor", **MISREAD)
    assert entry(page, "throttle_bore")["value"] == "19/32"
    assert entry(page, "bolt_spacing")["value"] == "1900"
    assert chosen(entry(page, "choke_type")) == ["banana"]
    assert chosen(entry(page, "instrument")) == ["thumb"]


def test_a_name_that_the_family_does_not_have_is_told_without_a_field(site: "Site") -> None:
    page = site.page("/", family="carburetor", wheels="4", throttle_bore="19")
    assert page.status == 422
    assert "wheels" in page.words("#trouble")
    assert page.soup.select("[aria-invalid]") == []


def test_an_entry_given_twice_is_refused_and_kept(site: "Site") -> None:
    page = site.page("/", family="carburetor", throttle_bore=["19", "20"])
    assert page.status == 422
    assert "This stands twice; give it once." in described(page, entry(page, "throttle_bore"))[-1]
    assert entry(page, "throttle_bore")["value"] == "19,20"


def test_a_sheet_sent_empty_says_what_to_measure(site: "Site") -> None:
    page = site.page("/", family="carburetor", throttle_bore="", choke_type="")
    assert page.status == 422
    assert "measure Throttle bore" in page.words("#trouble")


def test_a_family_that_is_not_on_hand_is_refused_and_the_others_offered(site: "Site") -> None:
    page = site.page("/", family="windmill")
    assert page.status == 422
    assert "There is no such family" in page.words("#trouble")
    assert page.soup.select("form") == []
    assert page.soup.select("nav.families a[href='/?family=carburetor']")


def test_where_nothing_is_on_file_the_page_says_what_to_do_first(bare_site: "Site") -> None:
    page = bare_site.page("/", family="carburetor")
    assert page.status == 200
    assert "fitworth import FILE" in page.words("#empty")
    assert page.one("#empty a")["href"] == "/docs"
    asked = bare_site.page("/", family="carburetor", throttle_bore="19.1 mm")
    assert asked.status == 422
    assert "No part of the family Carburetor is on file" in asked.words("#trouble")
    assert asked.soup.select("#empty")
    assert entry(asked, "throttle_bore")["value"] == "19.1 mm"


# The form


def test_the_family_is_chosen_first(site: "Site") -> None:
    page = site.page("/")
    families = {family["key"]: family["label"] for family in site.client.get("/v1/families").json()["items"]}
    links = {str(link["href"]): link.get_text() for link in page.soup.select("nav.families a")}
    assert links == {f"/?family={key}": label for key, label in families.items()}
    assert page.soup.select("form") == []


@pytest.mark.parametrize("key", ["carburetor", "ignition_coil", "spark_plug", "flywheel_key"])
def test_every_dimension_that_counts_has_a_field_with_label_and_how_to_measure(
    site: "Site", key: str
) -> None:
    page = site.page("/", family=key)
    family = site.client.get(f"/v1/families/{key}").json()
    for dimension in family["dimensions"]:
        if dimension["role"] == "note":
            continue
        field = entry(page, dimension["key"])
        assert page.words(f"label[for='{field['id']}']").endswith(dimension["label"])
        assert dimension["how"] in described(page, field)[0]
        if dimension["kind"] == "choice":
            values = [str(option["value"]) for option in field.select("option")]
            assert values == ["", *dimension["choices"]]


def test_notes_have_a_field_only_where_another_dimension_depends_on_them(site: "Site") -> None:
    page = site.page("/", family="carburetor")
    notes = {str(tag["name"]) for tag in page.soup.select("#group-machine [name]")}
    assert notes == {"stud_diameter", "air_connection"}
    assert page.soup.select("[name=seat_replaceable]") == []


def test_units_stand_beside_numbers(site: "Site") -> None:
    page = site.page("/", family="carburetor")
    bore, axis = entry(page, "throttle_bore").parent, entry(page, "bolt_axis").parent
    assert bore is not None
    assert axis is not None
    assert (bore.get_text(), axis.get_text()) == ("mm", "degrees")


def test_the_form_keeps_what_was_entered(site: "Site") -> None:
    page = site.page("/", family="carburetor", instrument="rule", known_number="", **MEASURED)
    assert page.status == 200
    assert entry(page, "family")["value"] == "carburetor"
    for key in ("throttle_bore", "bolt_spacing", "marking"):
        assert entry(page, key)["value"] == MEASURED[key]
    assert chosen(entry(page, "choke_type")) == ["manual_lever"]
    assert chosen(entry(page, "instrument")) == ["rule"]
    assert entry(page, "known_number")["value"] == ""


def test_a_choice_written_by_hand_is_the_one_chosen(site: "Site") -> None:
    page = site.page("/", family="carburetor", choke_type="Manual Lever")
    assert chosen(entry(page, "choke_type")) == ["manual_lever"]


def test_flags_are_yes_no_or_unknown(site: "Site") -> None:
    untouched = entry(site.page("/", family="ignition_coil"), "stop_diode")
    assert [str(option["value"]) for option in untouched.select("option")] == ["", "yes", "no"]
    assert chosen(untouched) == [""]
    page = site.page("/", family="ignition_coil", stop_diode="true")
    assert chosen(entry(page, "stop_diode")) == ["yes"]


def test_sets_are_boxes_that_stay_ticked(site: "Site") -> None:
    page = site.page("/", family="carburetor", throttle_bore="19", gasket_set=["insulator", "intake_o_ring"])
    assert page.status == 200
    ticked = {str(box["value"]) for box in page.soup.select("[name=gasket_set][checked]")}
    assert ticked == {"insulator", "intake_o_ring"}
    read = {row.get_text(" ", strip=True) for row in page.soup.select("table.read tbody tr")}
    assert any("insulator, intake o ring" in row for row in read)


def test_an_unknown_item_of_a_set_is_a_fault_of_the_set_and_stays_ticked(site: "Site") -> None:
    page = site.page("/", family="carburetor", throttle_bore="19", gasket_set=["insulator", "tin_foil"])
    assert page.status == 422
    assert page.soup.select("[name=gasket_set][value=tin_foil][checked]")
    assert "Gaskets that fitting requires is one of" in page.words("[id='gasket_set-fault']")


def test_a_family_of_ones_own_gets_its_form(open_site: "Opener", tmp_path: Path) -> None:
    shutil.copy(ROOT / "tests" / "core" / "families" / "recoil_starter.toml", tmp_path)
    own = open_site(tmp_path)
    page = own.page("/", family="recoil_starter", comes_with="rope, handle", has_brake="no", pawls="2")
    assert page.status == 422, "nothing is on file"
    assert entry(page, "comes_with")["value"] == "rope, handle"
    assert "Commas between." in described(page, entry(page, "comes_with"))[0]
    assert chosen(entry(page, "has_brake")) == ["no"]
    assert page.soup.select(".drawing") == []
    check_links(own, page)


def test_cautions_stand_before_the_form_and_in_full_below(site: "Site") -> None:
    page = site.page("/", family="carburetor")
    short = [item.get_text() for item in page.soup.select(".cautions li")]
    assert [text.split()[0] for text in short] == ["The", "Plug", "Fuel"]
    assert "manual" in short[0]
    assert all(text.count(". ") == 0 for text in short)
    assert "no wire or drill through a jet" in page.words(".all-cautions")
    plug = site.page("/", family="spark_plug")
    assert "A plug of the wrong reach, thread or seat never ranks" in plug.words(".cautions")
    assert [item.get_text().split()[0] for item in site.page("/").soup.select(".cautions li")] == [
        "The",
        "Plug",
        "Fuel",
    ]


# The drawing


@pytest.mark.parametrize("family", sorted(DRAWN))
def test_the_numbers_in_a_drawing_are_those_of_its_fields(site: "Site", family: str) -> None:
    drawing = (STATIC / f"measure-{family}.svg").read_text(encoding="utf-8")
    found = re.findall(r'data-key="(\w+)" data-number="(\d+)"', drawing)
    assert found == [(key, str(place)) for place, key in enumerate(DRAWN[family], 1)]
    assert [view in drawing for view in ('<view id="front"', '<view id="side"')] == [True, True]
    page = site.page("/", family=family)
    for key, number in found:
        assert page.words(f"label[for='f-{key}']").split()[0] == number
    assert len(page.soup.select(".drawing figcaption li")) == len(found)


def test_the_drawing_of_the_documents_is_that_of_the_page() -> None:
    name = "measure-carburetor.svg"
    assert (ROOT / "docs" / name).read_bytes() == (STATIC / name).read_bytes()


@pytest.mark.parametrize("name", ["measure-carburetor.svg", "icon.svg"])
def test_drawings_load_nothing_and_have_no_style_or_script(name: str) -> None:
    drawing = (STATIC / name).read_text(encoding="utf-8")
    assert re.findall(r"<script|<style|style=|href=|\son\w+=", drawing) == []


# Every page


@pytest.mark.parametrize("address", ADDRESSES.values(), ids=ADDRESSES.keys())
def test_every_page_is_sound(site: "Site", address: tuple[str, dict[str, Any]]) -> None:
    page = site.page(address[0], **address[1])
    assert page.words("title").endswith("Fitworth")
    assert page.one("html")["lang"] == "en"
    assert len(page.soup.select("h1")) == 1
    check_nothing_inline(page)
    check_ids(page)
    check_labels(page)
    check_links(site, page)


def check_nothing_inline(page: "Page") -> None:
    assert page.soup.select("style, [style], script:not([src])") == []
    for tag in page.soup.find_all(True):
        assert [name for name in tag.attrs if name.startswith("on")] == [], tag
        for name in ("src", "href", "action"):
            assert not str(tag.get(name, "/")).startswith(("//", "http", "javascript", "data")), tag


def check_ids(page: "Page") -> None:
    ids = [str(tag["id"]) for tag in page.soup.select("[id]")]
    assert sorted(set(ids)) == sorted(ids)
    for name in ("for", "aria-describedby", "aria-labelledby"):
        for tag in page.soup.select(f"[{name}]"):
            assert set(words_of(tag[name])) <= set(ids), tag


def words_of(value: Any) -> Iterable[str]:
    return value.split() if isinstance(value, str) else value


def check_labels(page: "Page") -> None:
    for control in page.soup.select("input:not([type=hidden]), select, textarea"):
        bound = page.soup.select(f"label[for='{control['id']}']") or control.find_parents("label")
        assert len(bound) == 1, control
        assert bound[0].get_text(strip=True), control
    for group in page.soup.select("fieldset"):
        assert group.legend is not None
    for image in page.soup.select("img, svg"):
        assert image.get("alt") or image.get("aria-label"), image
    for region in page.soup.select("[tabindex='0']"):
        assert region.get("role") == "region", region


def check_links(site: "Site", page: "Page") -> None:
    names = {
        (tag.name, name) for tag in page.soup.find_all(True) for name in ("href", "src") if tag.get(name)
    }
    addresses = {str(tag[name]) for kind, name in names for tag in page.soup.select(f"{kind}[{name}]")}
    for address in addresses:
        path, _, anchor = address.partition("#")
        if not path:
            assert page.soup.select(f"[id='{anchor}']"), address
        elif not (path.startswith("/v1/fits") and page.status != 200):
            assert site.client.get(path).status_code == 200, address


def test_every_template_is_shown_by_some_page_or_by_another_template() -> None:
    shown = {"measure.html", "problems.html", "docs.html"}
    texts = [template.read_text(encoding="utf-8") for template in TEMPLATES.iterdir()]
    shown |= set(re.findall(r'{% (?:extends|from|include) "([^"]+)"', "".join(texts)))
    assert {template.name for template in TEMPLATES.iterdir()} == shown


def test_templates_escape_and_refuse_names_that_they_were_not_given() -> None:
    environment = make_environment()
    assert environment.from_string("{{ name }}").render(name="<b>") == "&lt;b&gt;"
    with pytest.raises(Exception, match="'nobody' is undefined"):
        environment.from_string("{{ nobody }}").render()


def test_the_machine_interface_and_the_icon_are_served(site: "Site") -> None:
    assert site.page("/docs").words("title") == "Fitworth: the machine interface"
    icon = site.client.get("/favicon.ico")
    assert (icon.status_code, icon.headers["content-type"]) == (200, "image/svg+xml")
    assert icon.text.startswith("<svg")


def test_pages_carry_the_security_headers_and_are_asked_for_again(site: "Site") -> None:
    answer = site.client.get("/")
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-cache"


def test_every_kind_of_problem_has_its_place_on_the_page(site: "Site") -> None:
    page = site.page("/problems")
    slugs = [str(tag["id"]) for tag in page.soup.select("dl.kinds > div")]
    declared = {error.slug: error.title for error in errors.ServiceError.__subclasses__()}
    declared |= {slug: title for slug, title, _ in problems.CORE_PROBLEMS.values()}
    framework = {problems.of_status(status)["type"].partition("#")[2] for status in (400, 404, 405, 418, 500)}
    declared |= {slug: title for slug, title, *_ in problems.DATABASE_PROBLEMS.values()}
    assert set(slugs) == {*declared, *framework}
    for slug, title in declared.items():
        text = page.words(f"[id='{slug}']")
        assert text.startswith(f"{title} /problems#{slug}")
        assert text.endswith(".") or text[-1].isalnum(), text


def test_a_problem_names_an_anchor_of_that_page(site: "Site") -> None:
    kind = site.client.get("/v1/fits", params={"family": "windmill"}).json()["type"]
    path, _, anchor = kind.partition("#")
    assert site.page(path).one(f"[id='{anchor}']")
