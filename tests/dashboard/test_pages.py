"""The page is found in a checkout and in an installed package, and needs nothing from elsewhere."""

from __future__ import annotations

import json
import re
import struct
from pathlib import Path

import pytest

from bridge.dashboard.pages import MEDIA_TYPES, find_web

WEB = Path(__file__).resolve().parents[2] / "web"


def lay(folder: Path) -> Path:
    folder.mkdir(parents=True)
    (folder / "index.html").touch()
    return folder


def test_in_a_checkout_beside_the_package() -> None:
    assert find_web() == WEB


def test_in_an_installed_package_inside_it(tmp_path: Path) -> None:
    inside = lay(tmp_path / "site-packages" / "bridge" / "_web")
    lay(tmp_path / "site-packages" / "web")  # another project's
    assert find_web(tmp_path / "site-packages" / "bridge") == inside


def test_nowhere_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="install Numbertaker again"):
        find_web(tmp_path / "bridge")


def test_every_file_has_a_sure_media_type() -> None:
    assert {path.suffix for path in WEB.iterdir() if not path.name.startswith(".")} <= set(MEDIA_TYPES)


def test_a_phone_finds_a_name_and_icons_for_its_home_screen() -> None:
    """As https://www.w3.org/TR/appmanifest/ names it; a PNG has its size in bytes 16 to 23 (RFC 2083)."""
    page = (WEB / "index.html").read_text(encoding="utf-8")
    linked = dict(re.findall(r'<link rel="(manifest|apple-touch-icon)" href="([^"]+)">', page))
    manifest = json.loads((WEB / linked["manifest"]).read_text(encoding="utf-8"))
    assert manifest["name"] == "Numbertaker"
    pictures = {icon["src"]: icon["sizes"] for icon in manifest["icons"]}
    assert linked["apple-touch-icon"] in pictures
    for name, size in pictures.items():
        content = (WEB / name).read_bytes()
        if name.endswith(".png"):
            assert "{}x{}".format(*struct.unpack(">II", content[16:24])) == size


def test_the_page_loads_nothing_from_elsewhere() -> None:
    for path in (path for path in WEB.iterdir() if path.suffix != ".png"):
        text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://|(src|href|url\()\s*=?\s*[\"']?//", text), path.name


def test_text_becomes_text_only() -> None:
    for path in WEB.glob("*.js"):
        assert not re.search(
            r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\b|new Function", path.read_text()
        ), path.name


def test_every_imported_file_exists() -> None:
    for path in WEB.glob("*.js"):
        for name in re.findall(r'from "\./([^"]+)"', path.read_text(encoding="utf-8")):
            assert (WEB / name).is_file(), f"{path.name}: {name}"


def test_every_colour_and_size_of_letters_stands_in_one_file() -> None:
    for path in WEB.glob("*.css"):
        if path.name != "tokens.css":
            text = path.read_text(encoding="utf-8")
            assert not re.search(r"#[0-9a-fA-F]{3,8}\b(?![^{}]*\{)|\brgba?\(|\bhsla?\(", text), path.name
            assert not re.search(
                r"font-size: *[\d.]+(px|rem)|(border|outline|stroke)[\w-]*: *[\d.]+px",
                re.sub(r"(radius|offset): *[^;]+", "", text),
            ), path.name


def test_every_style_and_script_that_the_page_names_exists() -> None:
    for page in WEB.glob("*.html"):
        for name in re.findall(r'(?:href|src)="([^"#:]+)"', page.read_text(encoding="utf-8")):
            assert (WEB / name).is_file(), f"{page.name}: {name}"


def test_no_part_is_named_like_a_page() -> None:
    """A browser goes to an element whose id stands behind "#", and a page's address stands there too."""
    texts, route = (WEB / name for name in ("texts.js", "route.js"))
    parts = re.search(r"parts: \{(.*?)\}", texts.read_text(encoding="utf-8"), re.DOTALL)
    pages = re.search(r"PAGES = \[(.*?)\]", route.read_text(encoding="utf-8"))
    assert parts is not None
    assert pages is not None
    named = set(re.findall(r"(\w+):", parts[1]))
    assert {"boards", "drawing"} <= named
    assert named.isdisjoint(re.findall(r'"(\w+)"', pages[1]))
