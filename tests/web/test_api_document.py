"""The document that describes the interface for other programs, held against the routes and fields."""

import json
import re
from importlib.resources import files
from typing import Any

from web.scenario import Scene
from web.test_api_acts import ASKED

from hangroom.store.api_tokens import Scope
from hangroom_web.api.acts import SETPOINT, WEIGH_IN
from hangroom_web.bearer import SCOPES, admitting


def document() -> dict[str, Any]:
    held = files("hangroom_web.api").joinpath("openapi.json").read_text(encoding="utf-8")
    told = json.loads(held)
    assert isinstance(told, dict)
    return told


def test_the_document_names_every_route_and_no_other(scene: Scene) -> None:
    app = scene.client().application
    routes = {
        (re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule), method.lower())
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/api/")
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    told = {(path, method) for path, kept in document()["paths"].items() for method in kept}
    assert told == routes


def test_the_document_asks_for_the_scopes_that_are_checked() -> None:
    told = {
        (path, method): {
            scope for one in kept["security"] for scopes in one.values() for scope in scopes
        }
        for path, methods in document()["paths"].items()
        for method, kept in methods.items()
    }
    for method, path, scopes in ASKED:
        spelled = path.replace("closet", "{room}").replace("/1", "/{number}")
        assert told[spelled, method.lower()] == scopes
    assert len(told) == len(ASKED)
    assert set().union(*SCOPES.values()) <= set(Scope)
    assert admitting("anything.new", "POST") == frozenset()


def test_the_document_names_the_fields_that_are_read() -> None:
    schemas = document()["components"]["schemas"]
    assert set(schemas["NewWeighIn"]["properties"]) == WEIGH_IN
    assert set(schemas["Setpoint"]["properties"]) == SETPOINT
