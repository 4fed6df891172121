"""Third-party files of the pages are those that the manifest names, byte for byte."""

import hashlib
import json
import re
from pathlib import Path
from typing import Any

PAGES = Path(__file__).resolve().parents[2] / "api" / "pages"
VENDOR = PAGES / "static" / "vendor"


def manifest() -> list[dict[str, Any]]:
    read: list[dict[str, Any]] = json.loads((VENDOR / "manifest.json").read_text(encoding="utf-8"))
    return read


def test_every_vendored_file_has_the_hash_that_the_manifest_states() -> None:
    stated = {name: sha256 for entry in manifest() for name, sha256 in entry["files"].items()}
    lying_there = {
        path.relative_to(VENDOR).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in VENDOR.rglob("*")
        if path.is_file() and path != VENDOR / "manifest.json"
    }
    assert lying_there == stated


def test_every_vendored_library_states_its_version_and_carries_its_licence() -> None:
    assert manifest()
    for entry in manifest():
        assert re.fullmatch(r"\d+\.\d+\.\d+", entry["version"]), entry["name"]
        assert entry["licence"], entry["name"]
        assert any(Path(name).name.upper().startswith("LICENSE") for name in entry["files"]), entry["name"]


def test_the_docs_page_loads_only_own_files_that_exist_and_has_nothing_inline() -> None:
    page = (PAGES / "templates" / "docs.html").read_text(encoding="utf-8")
    loaded = re.findall(r'(?:src|href)="(/static/[^"]+)"', page)
    assert len(loaded) == 3
    for url in loaded:
        assert (PAGES / url.lstrip("/")).is_file(), url
    assert "<style" not in page
    assert "style=" not in page
    assert re.findall(r"<script[^>]*>([^<]+)</script>", page) == []
    assert "//" not in re.sub(r"<!--.*?-->", "", page, flags=re.DOTALL), "nothing comes from another host"


def test_the_docs_page_tells_where_the_description_is_when_scripts_are_off() -> None:
    page = (PAGES / "templates" / "docs.html").read_text(encoding="utf-8")
    assert '<a href="/openapi.json">' in page
