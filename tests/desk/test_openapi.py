"""The description of the API: whole, and with an example of everything."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from wetside_desk import problems, schooltime

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk import api_examples
else:
    import desk_api_examples as api_examples


def test_openapi_shows_each_problem_by_an_example(client: TestClient) -> None:
    """Every operation has a summary, and every problem that it may answer an example."""
    api = client.get("/openapi.json").json()
    for address, methods in api["paths"].items():
        for method, what in methods.items():
            assert what["summary"], (method, address)
            for status, answer in what["responses"].items():
                if int(status) >= 400 and int(status) != 503:
                    assert answer["content"][problems.MEDIA_TYPE]["examples"], (address, status)
    assert "HTTPValidationError" not in json.dumps(api)


def good_answers(api: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Operation, media type and content of each good answer that has one."""
    for address, methods in api["paths"].items():
        for method, what in methods.items():
            for status, answer in what["responses"].items():
                for media, content in answer.get("content", {}).items():
                    if int(status) < 400:
                        yield f"{method.upper()} {address}", media, content


def test_openapi_names_no_shape_that_is_not_there(client: TestClient) -> None:
    """Every reference leads to a shape, under a name that people can read."""
    api = client.get("/openapi.json").json()
    shapes = api["components"]["schemas"]
    assert set(re.findall(r"#/components/schemas/([\w.]+)", json.dumps(api))) == set(shapes)
    assert not [name for name in shapes if "__" in name]
    assert "Successful Response" not in json.dumps(api)


def test_openapi_shows_each_answer_by_an_example(client: TestClient) -> None:
    """Each good answer has an example that is one by its shape, member for member."""
    api = client.get("/openapi.json").json()
    for operation, media, content in good_answers(api):
        assert "example" in content, operation
        if "json" in media:
            schema = {**content["schema"], "components": api["components"]}
            assert not list(jsonschema.Draft202012Validator(schema).iter_errors(content["example"]))


def test_openapi_shows_each_shape_and_parameter_by_an_example(client: TestClient) -> None:
    """Whoever writes a program sees what goes into a question and what each shape looks like."""
    api = client.get("/openapi.json").json()
    shapes = api["components"]["schemas"]
    assert [] == [
        name for name, shape in shapes.items() if "enum" not in shape and not shape.get("examples")
    ]
    bare = [
        (address, parameter["name"])
        for address, methods in api["paths"].items()
        for what in methods.values()
        for parameter in what.get("parameters", ())
        if not parameter["schema"].get("examples") and "examples" not in parameter
    ]
    assert [] == bare


def test_the_examples_are_answers_of_this_desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the desk answers today has the members that the examples show."""
    monkeypatch.setattr(schooltime, "now", schooltime.now)  # put back afterwards
    kept = json.loads(api_examples.FILE.read_text(encoding="utf-8"))
    assert form_of_json(kept) == form_of_json(api_examples.made(tmp_path))


def form_of_json(value: Any) -> Any:  # noqa: ANN401  # any JSON
    """The members of an answer, without what stands in them."""
    if isinstance(value, dict):
        return {name: form_of_json(one) for name, one in value.items()}
    return [form_of_json(one) for one in value] if isinstance(value, list) else None
