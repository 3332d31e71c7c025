"""What changes files over the API, against its own description, with made-up requests.

schemathesis makes requests from /openapi.json and checks status, media type and shape of every
answer. Bodies are mostly wrong, so hand-made right ones are mixed in.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import hypothesis
import pytest
import schemathesis
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import (
    missing_required_header,
    negative_data_rejection,
    positive_data_acceptance,
)

from wetside_desk.app import create_app
from wetside_desk.settings import DeskSettings

if TYPE_CHECKING:
    from tests.desk import stocked
    from tests.desk.invented import local
else:
    import desk_stocked as stocked
    from desk_invented import local

#: Whether a text is a good file is more than a schema can say, and it is refused with 422.
EXCUSED = [positive_data_acceptance, negative_data_rejection, missing_required_header]
RIGHT = {
    "shelf": stocked.SHELF,
    "bells": stocked.BELLS,
    "sheets": stocked.shipped(),
}


schemathesis.serializer.alias("application/toml", "text/plain")


@lru_cache(maxsize=1)
def description() -> schemathesis.BaseSchema:
    """The API's own description."""
    nowhere = Path("/nonexistent")
    return schemathesis.openapi.from_dict(
        create_app(DeskSettings(nowhere, nowhere, nowhere)).openapi()
    )


def changing() -> list[tuple[str, str]]:
    """Every documented request that changes or sends something."""
    paths = description().raw_schema["paths"]
    return sorted(
        (path, method.upper())
        for path, what in paths.items()
        for method in what
        if method in {"put", "post", "delete"}
    )


def test_all_of_them_are_here() -> None:
    """Files of three kinds, tests, fillings, moves, copies and checks."""
    assert 11 == len(changing())


@pytest.mark.parametrize(("path", "method"), changing())
def test_answers_are_as_described(folder: DeskSettings, path: str, method: str) -> None:
    """Never an error of the desk, never an answer that is not written down."""
    stocked.put(folder)
    client = local(folder, loud=False)
    operation = description()[path][method]
    toml = "application/toml" in str(operation.definition.raw.get("requestBody", ""))
    right = RIGHT[path.split("/")[2]]
    wrong: list[str] = []
    seen: set[int] = set()

    @hypothesis.settings(
        max_examples=15,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    @hypothesis.given(
        case=operation.as_strategy(),
        good=hypothesis.strategies.booleans(),
        header=hypothesis.strategies.sampled_from(("If-Match", "If-None-Match", "")),
    )
    def ask(case: schemathesis.Case[Any], good: bool, header: str) -> None:  # drawn by hypothesis
        headers = {str(k): str(v) for k, v in (case.headers or {}).items()}
        if header:
            headers[header] = "*"
        sent: dict[str, Any] = {}
        if good and "file" in (case.path_parameters or {}):
            case.path_parameters["file"] = "short-wash.toml"
        if toml:
            headers["Content-Type"] = "application/toml"
            sent["content"] = right if good else str(case.body)
        elif method == "POST":
            sent["json"] = case.body if isinstance(case.body, dict | list | str) else None
        answer = client.request(method, case.formatted_path, headers=headers, **sent)
        seen.add(answer.status_code)
        try:
            case.validate_response(answer, excluded_checks=EXCUSED)
        except FailureGroup as group:
            wrong.extend(f"{answer.url}: {failure}" for failure in group.exceptions)

    ask()
    assert [] == wrong[:3]
    assert seen
    if toml:  # good texts are among those sent, and they are taken
        assert min(seen) < 300
    assert not {code for code in seen if code >= 500}
