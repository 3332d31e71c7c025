"""How the API answers beyond its shapes: problems in OpenAPI, entity tags."""

from __future__ import annotations

import hashlib
from typing import Any

from fastapi import Request, Response
from pydantic import BaseModel

from wetside_desk import problems


class ProblemAnswer(BaseModel):
    """Problem details (RFC 9457); ``type`` leads to a page that explains the problem."""

    type: str
    title: str
    status: int
    instance: str
    detail: str | None = None
    errors: list[dict[str, str]] | None = None


def documented(*names: str) -> dict[int | str, dict[str, Any]]:
    """The ``responses`` of a route that may answer with these problems."""
    found: dict[int | str, dict[str, Any]] = {}
    for name in names:
        problem = problems.PROBLEMS[name]
        entry = found.setdefault(
            int(problem.status),
            {
                "description": problem.title,
                "content": {
                    problems.MEDIA_TYPE: {
                        "schema": {"$ref": "#/components/schemas/ProblemAnswer"},
                        "examples": {},
                    }
                },
            },
        )
        entry["content"][problems.MEDIA_TYPE]["examples"][name] = {
            "value": problems.body(problem, problem.explanation, "/v1/runs", {})
        }
    return found


def tag_of(*parts: object) -> str:
    """A strong entity tag made of everything that the answer depends on."""
    text = "\x1f".join(str(part) for part in parts)
    return f'"{hashlib.sha256(text.encode()).hexdigest()[:24]}"'


def not_modified(request: Request, tag: str) -> Response | None:
    """The short answer when the client has this state already, else None."""
    asked = request.headers.get("if-none-match", "")
    known = {part.strip().removeprefix("W/") for part in asked.split(",")}
    if tag in known or "*" in known:
        return Response(status_code=304, headers={"ETag": tag, "Cache-Control": "no-cache"})
    return None


def tagged(body: BaseModel, tag: str) -> Response:
    """A JSON answer with its tag; the client must ask each time whether it still holds."""
    return Response(
        body.model_dump_json(),
        media_type="application/json",
        headers={"ETag": tag, "Cache-Control": "no-cache"},
    )
