"""Words: how somebody wants to read, and the words that scripts say."""

from flask import (
    Blueprint,
    Response,
    abort,
    flash,
    g,
    redirect,
    render_template,
    request,
    url_for,
)
from werkzeug.wrappers import Response as Answer

from gradebook import words
from gradebook.records.commands import reading
from gradebook.records.faults import InvalidError
from gradebook.views import desk, language
from gradebook.views.answers import show_problems
from gradebook.views.forms.reading import ReadingForm
from syllabus.saying import say

bp = Blueprint("words", __name__)


@bp.route("/account/reading", methods=["GET", "POST"])
def choose() -> Answer | str | tuple[str, int]:
    """Choose the language, and how dates and hours are written."""
    form = ReadingForm(request.form, obj=g.person)
    if request.method != "POST":
        return render_template("account/reading.html", form=form)
    try:
        with desk.acting() as act:
            reading.choose(act, form.chosen())
    except InvalidError as fault:
        show_problems(form, fault.problems)
        return render_template("account/reading.html", form=form), 422
    language.choose(form.language.data or "")
    flash(say("From now on Windtee speaks and writes as you chose."))
    return redirect(url_for("factors.index"), 303)


@bp.get("/words/<code>-<digest>.json")
def catalogue(code: str, digest: str) -> Response:
    """What scripts say in a language; another text has another address."""
    known, text = words.for_scripts(code) if code in words.LANGUAGES else ("", "")
    if not known or digest != known:
        abort(404)
    answer = Response(text, mimetype="application/json")
    answer.set_etag(digest)
    answer.cache_control.public = True
    answer.cache_control.max_age = 31_536_000
    answer.cache_control.immutable = True
    answer.make_conditional(request)
    return answer
