"""Pages without a script: the sign-in form, the start, and what is said when something is refused.

In come a heading and what to say, out comes a small HTML page in the look of the screens.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Final

from flask import Response, g
from markupsafe import Markup

from dashboards.parts.markup import BRAND
from gaittrack.report.html_parts import look

STYLE: Final = "/assets/screens.css"
"""The only file that is shown to those who are not let in."""
_PAGE: Final = Markup(
    '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    "<title>{heading} · gaittrack</title>"
    '<meta name="viewport" content="width=device-width, initial-scale=1">{head}'
    '<style>{look}</style><link rel="stylesheet" href="{style}"></head>'
    '<body class="plain"><main><p class="name">{mark}gaittrack</p>'
    "<h1>{heading}</h1>{content}</main></body></html>"
)
_FORM: Final = Markup(
    "<p>What a brace changes in walking. Sign in to this laboratory’s study.</p>"
    '<form method="post" action="{action}" class="sign-in">'
    '<input type="hidden" name="form" value="{proof}">'
    '<label for="name">Name</label>'
    '<input id="name" name="name" value="{name}" autocomplete="username" required maxlength="64"'
    "{name_focus}>"
    '<label for="password">Password</label>'
    '<input id="password" name="password" type="password" autocomplete="current-password" '
    'required maxlength="1000"{wrong}>{warning}<button class="main">Sign in</button></form>'
    '<p class="soft">It arranges measurements. It does not diagnose, and it does not choose a '
    "brace.</p>"
)
_FOCUS: Final = Markup(" autofocus")
_WRONG: Final = Markup(' aria-invalid="true" aria-describedby="wrong" autofocus')
_WARNING: Final = Markup('<p id="wrong" class="wrong" role="alert">{}</p>')
_REFUSED: Final = Markup('<div class="card could-not"><p>{}</p>{}</div>')
_WAY_IN: Final = Markup(
    '<div class="row ways"><a class="main" href="/">To the first screen</a></div>'
)
REFUSALS: Final = {
    400: "The request could not be understood. Go back and try again.",
    403: "You are not let in from here.",
    404: "There is nothing at this address.",
    405: "This address does not take that kind of request.",
    413: "What was sent is too large for this server. Nothing was stored.",
    415: "This address takes another kind of content. Nothing was changed.",
    429: "Too many tries at once. Wait a little and try again.",
    500: "Something went wrong here and nothing was changed; it is in the log.",
}


def page(heading: str, content: Markup | str, *, status: int = 200, head: str = "") -> Response:
    """Return a page.

    Parameters
    ----------
    content : Markup or str
        A plain text becomes a paragraph.
    head : str, optional
        Markup for the page's head.
    """
    body = content if isinstance(content, Markup) else Markup("<p>{}</p>").format(content)
    text = _PAGE.format(
        head=Markup(head),
        look=Markup(look()),
        mark=Markup(BRAND),
        style=STYLE,
        heading=heading,
        content=body,
    )
    return Response(text, status=status, mimetype="text/html")


def refusal(status: int, words: str = "") -> Response:
    """Return the page that says what was refused, and what to do; a way on for who is let in.

    Parameters
    ----------
    words : str, optional
        In place of the usual ones.
    """
    say = words or REFUSALS.get(status, HTTPStatus(status).phrase)
    back = _REFUSED.format(say, _WAY_IN if g.get("visitor") else "")
    heading = "Something went wrong" if status >= 500 else "Not done"
    return page(heading, back, status=status)


def sign_in_form(
    action: str, proof: str, *, name: str = "", warning: str = "", status: int = 200
) -> Response:
    """Return the form to sign in.

    Parameters
    ----------
    action : str
        Where it is sent.
    proof : str
        Comes back with it.
    name : str
        What was given already; then only the password is asked for.
    warning : str
        What was wrong, said below the password.
    """
    form = _FORM.format(
        action=action,
        proof=proof,
        name=name,
        name_focus="" if name else _FOCUS,
        wrong=_WRONG if warning else "",
        warning=_WARNING.format(warning) if warning else "",
    )
    return page("Sign in", form, status=status)
