"""The language of an answer: the person's choice, else the browser's, else the school's."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from flask import Flask, g, request
from flask.json.provider import DefaultJSONProvider
from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape
from werkzeug.wrappers import Response

from gradebook import words
from gradebook.words import HOUSE, LANGUAGES, Language
from syllabus import saying
from syllabus.saying import Said

MOST = 4096


class SpokenJson(DefaultJSONProvider):
    """JSON for our scripts, and messages until the next page, in the reader's words."""

    def dumps(self, obj: Any, **kwargs: Any) -> str:  # noqa: ANN401 - Flask's own
        """The value as JSON, its words said in the reader's language."""
        return super().dumps(words.spoken_all(obj), **kwargs)


def choose(own: str | None = None) -> None:
    """Answer this request in the language that suits the asker; `own` is their choice now."""
    person, school = g.get("person"), g.get("school")
    if own is None:
        own = person.language if person is not None else ""
    default = school.language if school is not None else HOUSE
    wanted = own or words.best(request.accept_languages.values()) or default
    code = wanted if wanted in LANGUAGES else HOUSE
    words.answer_in(Language(code, person.dates if person is not None else "words"))


def _marked(text: str, values: dict[str, object]) -> Markup:
    """A text of ours with what belongs into it; what is not markup is escaped."""
    if not values:
        return _plain(text)
    safe = {name: escape(words.spoken_all(value)) for name, value in values.items()}
    return Markup(_kept(text.format(**safe)))  # noqa: S704 - ours, what is put in is escaped


def _kept(text: str) -> str:
    """The text with every percent sign in the line of its number."""
    return text.replace(" %", "\N{NO-BREAK SPACE}%")


def _shown(value: object) -> object:
    """What a template puts out: words as the reader reads them, anything else as it is."""
    return _kept(str(words.spoken(value))) if isinstance(value, Said) else value


@lru_cache(MOST)
def _plain(text: str) -> Markup:
    return Markup(_kept(text))  # noqa: S704 - from a template or a catalogue, never from anybody else


def say(text: str, /, **values: object) -> Markup:
    """Words in a template; a value may be markup."""
    return _marked(words.reader().phrase(text), values)


def say_n(one: str, many: str, n: int, /, **values: object) -> Markup:
    """Words in a template that depend on a number, which stands at `{n}`."""
    return _marked(words.reader().phrase_n(one, many, n), {"n": n, **values})


def word(code: object) -> str:
    """A code of ours (a role, an outcome, a severity) as a word."""
    return words.reader().phrase(str(code).replace("_", " "))


def capital(text: object) -> str:
    """Words with a capital at their beginning."""
    return str(words.spoken(saying.capital(str(words.spoken(text)))))


def _anew(said: Callable[[object], str]) -> Callable[[Context, object], str]:
    """A filter that Jinja may not work out once for all readers where its value is constant."""

    @pass_context
    def to_this_reader(context: Context, value: object) -> str:
        del context
        return said(value)

    return to_this_reader


def _tell(answer: Response) -> Response:
    """Say which language the answer is in, and that it depends on who asks."""
    if answer.mimetype == "text/html":
        answer.headers["Content-Language"] = words.reader().code
        answer.vary.update(("Accept-Language", "Cookie"))
    return answer


def _forget(fault: BaseException | None) -> None:
    del fault
    words.answer_in(Language())


def install(app: Flask) -> None:
    """Give every request its language, and templates and JSON their words."""
    app.json = SpokenJson(app)
    app.before_request(choose)
    app.after_request(_tell)
    app.teardown_request(_forget)
    env = app.jinja_env
    env.finalize = _shown
    env.globals.update(say=say, say_n=say_n)
    env.filters.update(word=_anew(word), capital=_anew(capital), english=str)
