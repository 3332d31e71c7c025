"""The API against its own description, with requests that nobody here thought of.

schemathesis makes requests from /openapi.json and checks status, media type, headers and
shape of every answer.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import hypothesis
import pytest
import schemathesis
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import positive_data_acceptance

from wetside_desk.app import create_app
from wetside_desk.settings import DeskSettings

if TYPE_CHECKING:
    from tests.desk.invented import local, write_live
else:
    from desk_invented import local, write_live


@lru_cache(maxsize=1)
def description() -> schemathesis.BaseSchema:
    """The API's own description; it does not depend on what the desk is over."""
    nowhere = Path("/nonexistent")
    return schemathesis.openapi.from_dict(
        create_app(DeskSettings(nowhere, nowhere, nowhere)).openapi()
    )


def documented() -> list[str]:
    """Every documented address that is read, but for the endless stream."""
    paths = description().raw_schema["paths"]
    return sorted(path for path, what in paths.items() if "get" in what and path != "/v1/live")


def without_journal(path: str) -> bool:
    """Whether an answer depends on the journal, so that it is also asked without one."""
    return path.startswith(("/v1/runs", "/v1/health", "/v1/station"))


@pytest.mark.parametrize(
    ("path", "there"),
    [
        *((path, True) for path in documented()),
        *((path, False) for path in documented() if without_journal(path)),
    ],
)
def test_answers_are_as_described(
    request: pytest.FixtureRequest, path: str, *, there: bool
) -> None:
    """Made-up requests, with and without a journal, get only documented answers."""
    settings: DeskSettings = request.getfixturevalue("school" if there else "folder")
    write_live(settings.live_file)
    client = local(settings, loud=False)
    operation = description()[path]["GET"]
    run = client.get("/v1/runs?limit=1").json()["runs"][0]["id"] if there else None
    excused: list[Any] = [] if there else [not_a_server_error]
    if not without_journal(path):
        # what these take (days of a term, volumes with units) is more than a schema can say,
        # so a documented refusal of fitting data is right; status and shape are still checked
        excused.append(positive_data_acceptance)
    wrong: list[str] = []
    seen: list[int] = []

    @hypothesis.settings(
        max_examples=25 if without_journal(path) else 10,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    @hypothesis.given(case=operation.as_strategy(), known=hypothesis.strategies.booleans())
    def ask(case: schemathesis.Case[Any], known: bool) -> None:  # drawn by hypothesis
        if known and run and "run" in (case.path_parameters or {}):
            case.path_parameters["run"] = run
        answer = client.request(
            case.method,
            case.formatted_path,
            params=case.query or {},
            headers={str(k): str(v) for k, v in (case.headers or {}).items()},
        )
        seen.append(answer.status_code)
        try:
            case.validate_response(answer, excluded_checks=excused)
        except FailureGroup as group:
            wrong.extend(f"{answer.url}: {failure}" for failure in group.exceptions)

    ask()
    assert [] == wrong[:3]
    assert seen
    assert {code for code in seen if code >= 500} <= {503}
    if there and path.startswith(("/v1/runs", "/v1/station", "/v1/health")):
        assert 200 in seen
