"""Judging a portable record, open to everybody: in the browser, or here without script."""

from flask import Blueprint, render_template, request

from gradebook.ledger.bundle import Verdict, verify_bundle
from gradebook.ledger.canonical import sha256_hex
from gradebook.views.forms.copying import VerifyForm
from syllabus.saying import say

bp = Blueprint("verify", __name__)

JUDGED = {
    0: say("The record is whole and unaltered."),
    2: say("Something in the file was changed after it was signed."),
    3: say("Entries are missing, or the ledger was rolled back or forked."),
    4: say("It is signed with a key that is unknown, was revoked, or is not the one named."),
    5: say("This is no training record that can be read."),
    6: say("It shows as current what was replaced."),
}
"""What each code of a verdict means, in the reader's language; its line stays as it is, so that
it can be compared with what other programs print."""
UNCOMPARED = say("The file agrees with itself. Whose key signed it was not compared.")


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
    verdict = verify_bundle(data, form.key.data or None)
    return _page(form, verdict, _plainly(verdict, form), sha256_hex(data))


def _plainly(verdict: Verdict, form: VerifyForm) -> str:
    return UNCOMPARED if not (verdict.code or form.key.data) else JUDGED[verdict.code]


def _page(
    form: VerifyForm, verdict: Verdict | None = None, plainly: str = "", sha256: str = ""
) -> str:
    return render_template(
        "verify/page.html", form=form, verdict=verdict, plainly=plainly, sha256=sha256
    )
