"""Schemathesis makes requests out of the document, and out of what the document forbids.

It holds each answer against the document: no failure, only the codes and forms that are named,
nothing taken that is forbidden. Then the same without a token: nothing may change.
"""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.core.result import Ok
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import positive_data_acceptance
from web.attacking import Attacked
from web.scenario import Scene
from web.test_api_acts import Program

Operation = schemathesis.schemas.APIOperation[Any, Any, Any, Any]
Case = schemathesis.Case[Any]

SOME = settings(
    max_examples=20,
    deadline=None,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
MODES = [GenerationMode.POSITIVE, GenerationMode.NEGATIVE]


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory, household: Path) -> Attacked:
    folder = tmp_path_factory.mktemp("asked") / "household"
    return Attacked(scene=Scene(folder=Path(shutil.copytree(household, folder))))


@pytest.fixture(scope="module")
def operations(attacked: Attacked) -> list[Operation]:
    schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", attacked.app)
    found = list(schema.get_all_operations())
    sound = [one.ok() for one in found if isinstance(one, Ok)]
    assert len(sound) == len(found) > 0
    return sound


def each(
    operations: list[Operation],
    mode: GenerationMode,
    check: Callable[[Case], None],
) -> int:
    """Check some requests of every operation, and return how many there were."""
    made = 0
    for operation in operations:
        if mode is GenerationMode.NEGATIVE and not (
            operation.body or operation.query or operation.path_parameters
        ):
            continue  # there is nothing in it that could be wrong

        @SOME
        @given(case=operation.as_strategy(generation_mode=mode))
        def ask(case: Case) -> None:
            nonlocal made
            made += 1
            check(case)

        ask()
    return made


@pytest.mark.parametrize("mode", MODES)
def test_without_a_token_nothing_changes_and_nothing_fails(
    attacked: Attacked, operations: list[Operation], mode: GenerationMode
) -> None:
    before = attacked.holds()

    def check(case: Case) -> None:
        answer = case.call()
        assert answer.status_code in {200, 304, 400, 401, 404, 405, 422}, case.path
        assert answer.status_code != 200 or case.method.upper() in {"GET", "HEAD"}

    assert each(operations, mode, check) >= 50
    assert attacked.holds() == before


@pytest.mark.parametrize("mode", MODES)
def test_every_answer_is_as_the_document_says(
    attacked: Attacked, operations: list[Operation], mode: GenerationMode
) -> None:
    program = Program(scene=attacked.scene, scopes=("control", "read", "write"), key=str(mode))

    def check(case: Case) -> None:
        # Unpacked: its own client of the app would take packed bytes for the text.
        case.call_and_validate(
            headers={**program.bearer, "Accept-Encoding": "identity"},
            # A moment of the right form may be one to come, or of a year without a batch.
            excluded_checks=[positive_data_acceptance],
        )

    assert each(operations, mode, check) >= 50
