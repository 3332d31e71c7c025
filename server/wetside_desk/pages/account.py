"""First start, sign in, sign out."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from wetside_desk.access import browsers, limits
from wetside_desk.access.carried import Typed, of_sign_in
from wetside_desk.access.gate import COOKIE, Sent, Who, check_origin, client_of
from wetside_desk.access.limits import Limit
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages.forms import Fields, Refused
from wetside_desk.pages.render import came_from, here, page
from wetside_desk.store import accounts, audit

router = APIRouter(include_in_schema=False)

#: What the page says after all sessions ended, by a word in its address.
AFTER = {
    "passphrase": "The passphrase was changed. Everybody signs in again, with the new one.",
    "restored": (
        "Restored: notes, labels, settings, sheets, bells and shelf. "
        "Everybody signs in again, with the passphrase of the backup."
    ),
    "restored-desk": (
        "Restored: notes, labels and settings. The backup holds no sheets, bells or shelf, so "
        "those stayed. Everybody signs in again, with the passphrase of the backup."
    ),
}

After = Annotated[str, Query(max_length=40)]


def inside(address: str) -> str:
    """The address when it is one of this device, else the start page.

    Two slashes or more at its head, or one that leans back, lead browsers to another host.
    """
    good = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if good and address.isprintable() else "/"


def _signed_in(
    request: Request, desk: Desk, back: str, to: str = "", typed: Sequence[Typed] = ()
) -> Response:
    agent = request.headers.get("user-agent", "unknown browser")
    token = accounts.open_session(desk.database, agent)
    answer: Response = RedirectResponse(inside(back), status_code=303)
    made = accounts.session_of(desk.database, token)
    if typed and made is not None:
        who = Who("teacher", made.form, made.digest)
        answer = send_again(request, 200, who, to, typed, back)
    answer.set_cookie(
        COOKIE,
        token,
        max_age=int(accounts.SESSION_SECONDS),
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
        path="/",
    )
    carried = request.cookies.get(browsers.COOKIE, "")
    mine = carried if browsers.known(desk.database, carried) else browsers.made(desk.database)
    answer.set_cookie(
        browsers.COOKIE,
        mine,
        max_age=browsers.LASTS_SECONDS,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
        path="/sign-in",
    )
    return answer


def _tries(request: Request, desk: Desk) -> tuple[tuple[Limit, str], ...]:
    """What a try to sign in counts for: a browser that did before has tries of its own."""
    mine = browsers.known(desk.database, request.cookies.get(browsers.COOKIE, ""))
    if mine:
        return ((limits.SIGN_IN, f"browser {mine}"),)
    return (
        (limits.SIGN_IN, limits.network_of(client_of(request))),
        (limits.SIGN_IN_ALL, "everybody"),
    )


@router.get("/FIRST-START")  # capital letters: they make the smallest QR code
@router.get("/first-start")
def first_start(request: Request, desk: TheDesk, after: After = "") -> Response:
    """Where the passphrase is set the first time."""
    if accounts.claimed(desk.database):
        return RedirectResponse("/sign-in", status_code=303)
    return page(
        request,
        "first_start.html",
        wrong="",
        shortest=accounts.SHORTEST_PASSPHRASE,
        restored=after.startswith("restored"),
    )


@router.post("/first-start")
def set_first_passphrase(
    request: Request,
    desk: TheDesk,
    code: Annotated[str, Form(max_length=40)] = "",
    passphrase: Annotated[str, Form(max_length=400)] = "",
    again: Annotated[str, Form(max_length=400)] = "",
) -> Response:
    """Take the code of the display and the passphrase."""
    check_origin(request)
    if accounts.claimed(desk.database):
        return RedirectResponse("/sign-in", status_code=303)
    desk.gate.limiter.take(limits.FIRST_START, limits.network_of(client_of(request)))
    wrong: list[Refused] = []
    if not desk.gate.claim.fits(code):
        says = "That is not the code on the display. Look again: it may have changed."
        wrong = [Refused("", says, "code")]
    elif passphrase != again:
        wrong = [Refused("", "The two passphrases differ.", "again")]
    else:
        try:
            accounts.set_passphrase(desk.database, passphrase)
        except ValueError as error:
            wrong = [Refused("", f"{error}.", "passphrase")]
    if wrong:
        return page(
            request,
            "first_start.html",
            422,
            wrong=wrong,
            shortest=accounts.SHORTEST_PASSPHRASE,
            restored=False,
        )
    desk.gate.claim.hide()
    audit.add(desk.database, "teacher", "passphrase set", client_of(request))
    return _signed_in(request, desk, "/")


@router.get("/sign-in")
def sign_in_page(
    request: Request,
    desk: TheDesk,
    back: Annotated[str, Query(max_length=8000)] = "/",
    after: After = "",
) -> Response:
    """Where the passphrase is asked for; ``after`` is a key of `AFTER`."""
    if not accounts.claimed(desk.database):
        more = f"?after={after}" if after in AFTER else ""
        return RedirectResponse(f"/first-start{more}", status_code=303)
    return _sign_in_page(request, back, done=AFTER.get(after, ""))


def _sign_in_page(
    request: Request,
    back: str,
    status: int = 200,
    *,
    wrong: str = "",
    done: str = "",
    to: str = "",
    typed: Sequence[Typed] = (),
    ended: bool = False,
) -> HTMLResponse:
    """The page; ``to`` is where a form was sent that held what was ``typed`` when it ``ended``."""
    return page(
        request,
        "sign_in.html",
        status,
        wrong=wrong,
        back=inside(back),
        done=done,
        to=inside(to),
        typed=typed,
        ended=ended,
    )


def sign_in_again(
    request: Request, status: int, headers: Mapping[str, str], typed: Sequence[Typed]
) -> Response:
    """A form was sent without a session that is in force: sign in, and nothing typed is lost."""
    answer = _sign_in_page(
        request, came_from(request), status, to=here(request), typed=typed, ended=True
    )
    answer.headers.update(headers)
    return answer


def send_again(
    request: Request, status: int, who: Who, to: str, typed: Sequence[Typed], back: str = ""
) -> HTMLResponse:
    """What was typed, to be sent with the token of the session that is in force."""
    back = inside(back or came_from(request))
    return page(request, "send_again.html", status, who=who, to=to, typed=typed, back=back)


@router.post("/sign-in")
def sign_in(
    request: Request,
    desk: TheDesk,
    form: Fields,
    passphrase: Annotated[str, Form(max_length=400)] = "",
    back: Annotated[str, Form(max_length=8000)] = "/",
    to: Annotated[str, Form(max_length=8000)] = "",
) -> Response:
    """Open a session; what was typed before it is shown, to be sent anew."""
    typed = of_sign_in(form)
    check_origin(request)
    tries = _tries(request, desk)
    for limit, name in tries:
        desk.gate.limiter.take(limit, name)
    if not accounts.passphrase_fits(desk.database, passphrase):
        audit.add(desk.database, "somebody", "wrong passphrase", client_of(request))
        wrong = "That is not the passphrase."
        return _sign_in_page(request, back, 403, wrong=wrong, to=to, typed=typed)
    for limit, name in tries:
        desk.gate.limiter.give_back(limit, name)
    audit.add(desk.database, "teacher", "signed in", client_of(request))
    return _signed_in(request, desk, back, inside(to), typed)


@router.post("/sign-out")
def sign_out(desk: TheDesk, who: Sent) -> Response:
    """End this session, here and everywhere."""
    if who.digest:
        accounts.revoke(desk.database, who.digest)
        audit.add(desk.database, who.name, "signed out")
    answer = RedirectResponse("/live", status_code=303)
    answer.delete_cookie(COOKIE, path="/")
    return answer
