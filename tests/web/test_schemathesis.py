"""The whole API, called with what its description allows and with what it forbids: never a server error."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode, checks
from schemathesis.specs.openapi.checks import content_type_conformance, response_schema_conformance

from pacewright.app.desk.desk import Desk
from pacewright.web.server import create_app
from tests.app.desk.people import add_recording, some_putts, willing_player
from tests.databases import KINDS, fresh_desk

EXAMPLES = int(os.environ.get("PACEWRIGHT_API_EXAMPLES", "2"))
"""Calls of each kind for each operation on each database, others on each; raise it to look for more."""
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture(scope="module", params=KINDS)
def opened(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk with something in it, on each database."""
    desk = fresh_desk(request.param, Path(tmp_path_factory.mktemp("desk")))
    player = willing_player(desk)
    session = desk.sessions.create(player.id)
    desk.putts.add(session.id, some_putts(3))
    add_recording(desk, session)
    desk.work_once()
    yield desk
    desk.close()


@pytest.fixture(scope="module")
def api(opened: Desk) -> schemathesis.BaseSchema:
    """The description of the API, as the server gives it."""
    app = create_app(opened)
    app.state.stopping.set()  # streams of events end at once
    app.state.failed_by_sender.most = app.state.failed_by_account.most = 10**6
    return schemathesis.openapi.from_asgi("/api/v1/openapi.json", app, headers={"Host": "127.0.0.1:8780"})


CHECKS = [checks.not_a_server_error, content_type_conformance, response_schema_conformance]
HOUSE = settings(
    max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck),
    phases=[Phase.generate], database=None,
)  # fmt: skip


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
def test_no_call_breaks_anything(api: schemathesis.BaseSchema, opened: Desk, mode: GenerationMode) -> None:
    database = "sqlite" if opened._context.database.is_sqlite else "postgresql"
    broken: list[str] = []
    for found in api.get_all_operations():
        operation = found.ok()

        def call(case: schemathesis.Case) -> None:
            response = case.call(headers={"Host": "127.0.0.1:8780"})
            case.validate_response(response, checks=CHECKS)

        call.__name__ = f"call_{database}"  # examples hang on the name: each database gets its own
        try:
            HOUSE(given(operation.as_strategy(generation_mode=mode))(call))()
        except Unsatisfiable:  # nothing could be wrong with it
            assert mode is GenerationMode.NEGATIVE
        except (Exception, BaseExceptionGroup) as error:
            broken.append(f"{operation.label}: {error}"[:2000])
    assert broken == []


def test_the_description_names_every_kind_of_answer(api: schemathesis.BaseSchema) -> None:
    labels = [found.ok().label for found in api.get_all_operations()]
    assert len(labels) > 90
    assert len(set(labels)) == len(labels)
