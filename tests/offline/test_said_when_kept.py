"""The bar says that words are kept once they are, also while newer ones are being written."""

from playwright.sync_api import expect

from tests.offline.field import Field

HOLD = """() => {
  const { subtle } = crypto;
  const sealing = subtle.encrypt.bind(subtle);
  const bar = document.querySelector("[data-status]");
  let come = () => {};
  const held = window.held = [];
  window.said = [];
  window.reaches = (n) => new Promise((go, no) => {
    setTimeout(() => no(new Error(`${held.length} are held, not ${n}`)), 30000);
    come = () => held.length === n && go();
    come();
  });
  window.end = () => {
    delete subtle.encrypt;
    for (const go of held.splice(0)) go();
  };
  subtle.encrypt = (...asked) =>
    new Promise((go) => come(held.push(go))).then(() => sealing(...asked));
  new MutationObserver(() => window.said.push([bar.textContent, held.length]))
    .observe(bar, { childList: true });
}"""
"""Seal nothing before it is let go; note what the bar says, and how much is held by then."""


def test_nothing_is_said_to_be_kept_while_newer_words_are_being_written(field: Field) -> None:
    phone = field.ready_phone()
    field.line.down = True
    phone.open_from_pocket()
    phone.type_remark("first")
    expect(phone.status).to_contain_text("On this phone only")
    page = phone.page
    page.evaluate(HOLD)
    page.get_by_label("Registration").fill("KM-H1")
    for _ in ("typed", "changed"):
        page.evaluate("reaches(1)")
        page.evaluate("held.shift()()")
    page.evaluate("reaches(1)")  # its letter
    phone.type_remark("second")
    page.evaluate("reaches(2)")
    with page.expect_event("requestfailed"):
        page.evaluate("held.shift()()")
    page.evaluate("reaches(1)")
    page.evaluate("end()")
    expect(phone.status).to_contain_text("On this phone only")
    said = page.evaluate("said")
    assert [text for text, held in said if held and "On this phone only" in text] == []
