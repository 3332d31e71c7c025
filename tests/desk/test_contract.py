"""The API against its own description, with requests that nobody here thought of.

schemathesis makes requests from /openapi.json and checks status, media type, headers and
shape of every answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import hypothesis
import pytest
import schemathesis
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup

if TYPE_CHECKING:
    from tests.desk.invented import local, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import local, write_live

OPERATIONS = (
    ("/v1/station", "GET"),
    ("/v1/runs", "GET"),
    ("/v1/runs/{run}", "GET"),
    ("/v1/runs/{run}/trace.csv", "GET"),
    ("/v1/health", "GET"),
)


def test_every_operation_is_checked(folder: DeskSettings) -> None:
    """All documented operations but the endless stream are in the list above."""
    paths = local(folder).get("/openapi.json").json()["paths"]
    documented = {(path, method.upper()) for path, what in paths.items() for method in what}
    assert documented - {("/v1/live", "GET")} == set(OPERATIONS)


@pytest.mark.parametrize(("path", "method"), OPERATIONS)
@pytest.mark.parametrize("there", [True, False])
def test_answers_are_as_described(
    request: pytest.FixtureRequest, path: str, method: str, *, there: bool
) -> None:
    """Fifty made-up requests, with and without a journal, get only documented answers."""
    settings: DeskSettings = request.getfixturevalue("school" if there else "folder")
    write_live(settings.live_file)
    client = local(settings, loud=False)
    schema = schemathesis.openapi.from_dict(client.get("/openapi.json").json())
    operation = schema[path][method]
    run = client.get("/v1/runs?limit=1").json()["runs"][0]["id"] if there else None
    wrong: list[str] = []
    seen: list[int] = []

    @hypothesis.settings(
        max_examples=50,
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
            case.validate_response(answer, excluded_checks=[] if there else [not_a_server_error])
        except FailureGroup as group:
            wrong.extend(f"{answer.url}: {failure}" for failure in group.exceptions)

    ask()
    assert [] == wrong[:3]
    assert len(seen) >= (2 if path.endswith(("station", "health")) else 20)
    assert {code for code in seen if code >= 500} <= {503}
    if there:
        assert 200 in seen
