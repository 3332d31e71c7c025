"""OpenAPI made whole: the shapes that answers made by hand use, and an example of each answer.

The examples are answers of a desk over the tests' invented school, with lists cut short;
``python tests/desk/api_examples.py`` writes them anew.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel
from starlette.routing import BaseRoute

from wetside_desk.api.answers import ProblemAnswer
from wetside_desk.api.health import HealthAnswer

_EXAMPLES = Path(__file__).with_name("examples.json")
_SHAPES = "#/components/schemas/"
#: What FastAPI says of an answer that nobody described.
_UNSAID = "Successful Response"


def described(
    title: str, version: str, summary: str, routes: Sequence[BaseRoute]
) -> dict[str, Any]:
    """The description of these routes."""
    found = get_openapi(title=title, version=version, summary=summary, routes=routes)
    shapes: dict[str, Any] = found.setdefault("components", {}).setdefault("schemas", {})
    for shape in (ProblemAnswer, HealthAnswer):
        _add(shapes, shape)
    for name in ("HTTPValidationError", "ValidationError"):
        shapes.pop(name, None)
    examples = json.loads(_EXAMPLES.read_text(encoding="utf-8"))
    for key, operation in _operations(found):
        _exemplify(operation, examples.get(key), shapes)
    return found


def _add(shapes: dict[str, Any], shape: type[BaseModel]) -> None:
    """A shape, and those that it is made of."""
    schema = shape.model_json_schema(ref_template=f"{_SHAPES}{{model}}")
    shapes |= schema.pop("$defs", {})
    shapes[shape.__name__] = schema


def _operations(api: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for address, methods in api["paths"].items():
        for method, operation in methods.items():
            yield f"{method.upper()} {address}", operation


def _exemplify(operation: dict[str, Any], example: object, shapes: dict[str, Any]) -> None:
    """Put an example into the good answer of an operation, and say what that answer is."""
    for status, answer in operation["responses"].items():
        content: dict[str, Any] = next(iter(answer.get("content", {}).values()), {})
        schema = content.get("schema", {})
        if int(status) >= 400:
            for problem in content.get("examples", {}).values():
                _hand_down(schema, problem["value"], shapes)
            continue
        if answer["description"] == _UNSAID:
            answer["description"] = _said(schema, shapes)
        if example is not None:
            content["example"] = example
            _hand_down(schema, example, shapes)


def _said(schema: Mapping[str, Any], shapes: Mapping[str, Any]) -> str:
    """The first sentence that a shape says of itself."""
    told: str = shapes.get(_named(schema), {}).get("description", "done")
    return told.partition(".")[0].replace("\n", " ").replace("``", "`")


def _named(schema: Mapping[str, Any]) -> str:
    reference: str = schema.get("$ref", "")
    return reference.removeprefix(_SHAPES)


def _hand_down(schema: object, value: object, shapes: dict[str, Any]) -> None:
    """Give an example to each shape that an example is made of, the first one that comes."""
    if not isinstance(schema, Mapping):
        return  # anything may stand there
    name = _named(schema)
    shape: Mapping[str, Any] = shapes[name] if name else schema
    if name and isinstance(value, Mapping):
        shapes[name].setdefault("examples", [value])
    for choice in shape.get("anyOf", ()):
        if value is not None:
            _hand_down(choice, value, shapes)
    if isinstance(value, Mapping):
        for member, of in shape.get("properties", {}).items():
            if member in value:
                _hand_down(of, value[member], shapes)
        for one in value.values():
            _hand_down(shape.get("additionalProperties"), one, shapes)
    elif isinstance(value, list):
        for one in value:
            _hand_down(shape.get("items", {}), one, shapes)
