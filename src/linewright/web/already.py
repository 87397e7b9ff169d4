"""What a page answers when the lick to be kept is in the library already."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import HTMLResponse

from linewright.errors import AlreadyKept
from linewright.web.forms import Fields
from linewright.web.problems import status_of
from linewright.web.render import page

__all__ = ["already_page", "wants_again"]


def wants_again(form: Fields) -> bool:
    """Whether a second one was asked for."""
    return bool(form.text("again"))


def already_page(request: Request, form: Fields, error: AlreadyKept) -> HTMLResponse:
    """A link to the kept lick, and the same form once more for who wants a second one."""
    return page(
        request,
        "already.html",
        status=status_of(error),
        title="Already kept",
        error=error,
        action=request.url.path,
        pairs=form.pairs(),
    )
