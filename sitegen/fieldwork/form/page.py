"""The field form as one HTML file: the plan as data, our own script and style, and a policy that keeps all else out."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from hashlib import sha256
from html import escape
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.form.plandata import canonical, plan_data
from sitegen.project.survey import Survey
from sitegen.voice import Voice, script_worded, voice

_FOLDER = "templates/fieldwork"
_SCRIPT_SIGNS = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def field_form(survey: Survey, plan: FieldPlan) -> bytes:
    """Return the form of a plan: opened from a device's storage, it works without a server or a network."""
    style = _text("form.css")
    page = _environment().get_template("form.html.j2").render(
        policy=Markup(escape(policy(script(), style), quote=False)),  # noqa: S704 - hashes alone
        style=Markup(style),  # noqa: S704 - our own text
        script=Markup(script()),  # noqa: S704 - our own text
        plan=Markup(for_script(canonical(plan_data(survey, plan)).decode())),  # noqa: S704 - escaped for a script
        project=survey.settings.project.id,
    )  # fmt: skip
    return page.encode()


def for_script(json_text: str) -> str:
    r"""Return JSON that can stand inside a script element: nothing in it ends the element or begins a comment.

    >>> for_script('"</script><!--"')
    '"\\u003c/script\\u003e\\u003c!--"'
    """
    for sign, code in _SCRIPT_SIGNS.items():
        json_text = json_text.replace(sign, code)
    return json_text


def policy(code: str, style: str) -> str:
    """Return the content security policy: the script and the style of these texts, and nothing else.

    >>> policy("", "").split("; ")[0]
    "default-src 'none'"
    """
    rules = {
        "default-src": "'none'",
        "script-src": _digest(code),
        "style-src": _digest(style),
        "form-action": "'none'",
        "base-uri": "'none'",
    }
    return "; ".join(f"{name} {source}" for name, source in rules.items())


def script() -> str:
    """Return the form's script in the voice that speaks: its parts in the order of their names, in one scope."""
    return _script(voice())


@cache
def _script(_: Voice) -> str:
    names = sorted(part.name for part in files("sitegen").joinpath(_FOLDER).iterdir() if part.name.endswith(".js"))
    parts = "\n".join(_text(name) for name in names)
    return f'(() => {{\n"use strict";\n{script_worded(parts)}}})();\n'


def _digest(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


@cache
def _text(name: str) -> str:
    return files("sitegen").joinpath(f"{_FOLDER}/{name}").read_text("utf-8")


def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("sitegen", _FOLDER), undefined=StrictUndefined, autoescape=True, keep_trailing_newline=True
    )
