"""What a request asks for: a name that the route does not know is refused, never passed over.

``/v1/runs?from=2031-09-01`` would else give every run, as if the filter had been heard.
"""

from fastapi import Request
from fastapi.dependencies.models import Dependant
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute


def known(request: Request) -> None:
    """Dependency of a router: every name in the query is one of its route's.

    Raises
    ------
    RequestValidationError
        For each name that is not, with those that are.
    """
    route = request.scope["route"]
    names = _names(route.dependant) if isinstance(route, APIRoute) else set()
    strange = [name for name in dict.fromkeys(request.query_params) if name not in names]
    if strange:
        there = f"There are: {', '.join(sorted(names))}." if names else "There are none here."
        raise RequestValidationError(
            [
                {"loc": ("query", name[:64]), "msg": f"Not known. {there}", "type": "unknown"}
                for name in strange[:8]
            ]
        )


def _names(dependant: Dependant) -> set[str]:
    found = {field.alias for field in dependant.query_params}
    return found.union(*(_names(one) for one in dependant.dependencies))
