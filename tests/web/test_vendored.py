"""What others wrote and we send along: unchanged, named, licensed; and nothing else of others."""

import json
import re
from hashlib import sha256
from pathlib import Path

import hangroom_web

STATIC = Path(hangroom_web.__file__).parent / "static"
VENDOR = STATIC / "vendor"
VENDORED = json.loads((VENDOR / "vendored.json").read_text(encoding="utf-8"))

# From the package's own registry entry, `npm pack uplot@1.6.32`, 2026-12-01.
UPLOT_SHA256 = "19c8d4c6ad88929a79f4ae49d6f7161566dfd0ba3d15cc495e974f787eb78f1f"


def test_every_file_is_the_one_that_was_published() -> None:
    named = {name: file for package in VENDORED.values() for name, file in package["files"].items()}
    for name, file in named.items():
        assert sha256((VENDOR / name).read_bytes()).hexdigest() == file["sha256"]
    assert named["uplot-1.6.32.min.js"]["sha256"] == UPLOT_SHA256
    licences = {package["licence_file"] for package in VENDORED.values()}
    assert {path.name for path in VENDOR.iterdir()} == {*named, *licences, "vendored.json"}


def test_its_licence_is_there_in_full() -> None:
    text = (VENDOR / VENDORED["uplot"]["licence_file"]).read_text(encoding="utf-8")
    assert text.startswith("The MIT License (MIT)")
    assert "Copyright (c) 2022 Leon Sorokin" in text
    assert VENDORED["uplot"]["version"] == "1.6.32"


def test_no_page_asks_for_anything_elsewhere() -> None:
    """No address of another host in what the browser runs or draws; XML names are no addresses."""
    for path in [*STATIC.glob("*.js"), *STATIC.glob("*.css"), *VENDOR.glob("*.js")]:
        text = path.read_text(encoding="utf-8")
        assert not re.findall(r"""(?:src|href|url\(|fetch\(|import)\s*[=(]?\s*["']?https?:""", text)
