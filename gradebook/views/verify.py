"""Judging a portable record, open to everybody: in the browser, or here without script."""

from flask import Blueprint, render_template, request

from gradebook.ledger.bundle import Verdict, verify_bundle
from gradebook.ledger.canonical import sha256_hex
from gradebook.views.forms.copying import VerifyForm
from syllabus.saying import say

bp = Blueprint("verify", __name__)


@bp.route("/verify", methods=["GET", "POST"])
def page() -> str | tuple[str, int]:
    """Ask for a file and a fingerprint; a file that was sent is judged and forgotten."""
    form = VerifyForm(request.form)
    if request.method != "POST":
        return _page(form)
    sent = request.files.get("file")
    data = sent.read() if sent else b""
    if not data:
        form.file.errors = [say("Choose a file.")]
        return _page(form), 422
    if data.startswith(b"%PDF"):
        form.file.errors = [say("This is the PDF: choose the file that is attached to it.")]
        return _page(form), 422
    return _page(form, verify_bundle(data, form.key.data or None), sha256_hex(data))


def _page(form: VerifyForm, verdict: Verdict | None = None, sha256: str = "") -> str:
    return render_template("verify/page.html", form=form, verdict=verdict, sha256=sha256)
