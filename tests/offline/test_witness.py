"""A phone as a witness: a school that went back to an older copy is found out by it."""

import json
from contextlib import closing
from pathlib import Path

from playwright.sync_api import Browser, expect

from gradebook.cli import main
from gradebook.records import checkpoints, database
from gradebook.settings import SCHOOL_KEY
from tests.cast import SEED
from tests.chromium import PATIENCE
from tests.copies.paper_trail import fly
from tests.offline.field import Field, Phone, opened_field

SAID = "The school's ledger is not the one this phone saw before."


def copied(source: Path, to: Path) -> Path:
    """One SQLite file into another, whole, whoever has it open."""
    connect = (
        database.sqlite.connect
    )  # two SQLites in one process would not see each other's locks
    with closing(connect(source)) as one, closing(connect(to)) as other:
        one.backup(other)
    return to


def put_back(older: Path, field: Field) -> None:
    """Set an older copy up in the school's place, without what was kept outside of it."""
    field.school.database.engine.dispose()
    copied(older, file_of(field))
    for note in checkpoints.folders(field.school.settings.data)[0].glob("*"):
        note.unlink()


def file_of(field: Field) -> Path:
    return field.school.settings.data / "windtee.db"


def fact(phone: Phone) -> dict[str, object]:
    found: dict[str, object] = phone.run("return db.get('facts', 'witness')")
    return found


def look(phone: Phone) -> None:
    """Sign in anew, for days may have passed, and open a page once the school was asked."""
    phone.page.context.clear_cookies()
    phone.sign_in("ana")
    phone.go("/phone")
    assert phone.run("return (await load('witness')).check()")
    phone.go("/phone")


def test_a_phone_tells_a_school_that_went_back(browser: Browser, tmp_path: Path) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone("ana")
        page = phone.page
        look(phone)
        watches = page.get_by_role("heading", name="This phone watches the school's ledger")
        expect(watches).to_be_visible()
        before = fact(phone)["size"]
        page.goto("about:blank")  # or it would ask in between
        older = copied(file_of(field), tmp_path / "older.db")
        fly(field.school, "s-01")
        look(phone)
        expect(page.locator("[data-witness]")).not_to_contain_text(f"{before} entries")
        after = fact(phone)["size"]
        assert after > before
        page.goto("about:blank")
        put_back(older, field)
        look(phone)
        alarm = page.locator("[data-notice=witness]")
        expect(alarm).to_contain_text(f"{SAID} The ledger had {after} entries and has {before}")
        phone.go("/")
        expect(alarm).to_be_visible()
        told = handed_over(phone, tmp_path)
        noted = [told[one].split("\n")[1] for one in ("checkpoint", "shown")]
        assert noted == [str(after), str(before)]
        with page.expect_response("**/api/witness*"):
            page.get_by_role("button", name="It is explained: watch on from here").click()
        expect(watches).to_be_visible()
        expect(alarm).to_have_count(0)


def handed_over(phone: Phone, folder: Path) -> dict[str, str]:
    """Both notes as a file, which the school's own command refuses its ledger by."""
    phone.go("/phone#witness")
    with phone.page.expect_download() as download:
        phone.page.get_by_role("button", name="Save both notes to a file").click()
    saved = folder / "windtee-witness.json"
    download.value.save_as(saved)
    (folder / SCHOOL_KEY).write_text(SEED.hex())
    assert main(["verify", "--data", str(folder), "--checkpoint", str(saved)]) == 3
    told: dict[str, str] = json.loads(saved.read_text())
    return told


def test_a_phone_tells_a_past_that_was_written_anew(browser: Browser, tmp_path: Path) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone("ana")
        older = copied(file_of(field), tmp_path / "older.db")
        fly(field.school, "s-01", remarks="Below standard.")
        look(phone)
        seen = fact(phone)["size"]
        phone.page.goto("about:blank")  # or it would ask before the past is written anew
        put_back(older, field)
        for lesson in ("s-01", "s-02"):
            fly(field.school, lesson, remarks="Fine.")
        look(phone)
        alarm = phone.page.locator("[data-notice=witness]")
        expect(alarm).to_contain_text(f"The first {seen} entries are not those")


def test_a_receipt_is_asked_for_again_at_the_next_sync(
    browser: Browser, tmp_path: Path
) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone()
        phone.set_up()
        phone.sign_away()
        phone.find_network()
        phone.go("/")
        phone.sent()
        expect(phone.page.locator("[data-unsent]")).to_be_hidden()
        asked = "return (await db.all('receipts')).filter((row) => row.proved).length"
        for _ in range(PATIENCE // 100):
            if phone.run(asked):
                break
            phone.page.wait_for_timeout(100)
        assert phone.run(asked) == 1


def test_a_phone_follows_the_school_to_its_next_key(browser: Browser, tmp_path: Path) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone("ana")
        look(phone)
        first = fact(phone)["vkey"]
        phone.page.goto("about:blank")
        (tmp_path / SCHOOL_KEY).write_text(SEED.hex())
        assert main(["key", "rotate", "--data", str(tmp_path)]) == 0
        look(phone)
        expect(phone.page.locator("[data-witness] code")).to_be_visible()
        second = fact(phone)
        assert second["vkey"] != first
        assert "broken" not in second
        phone.page.goto("about:blank")
        good = str(second["size"])
        words = ["--data", str(tmp_path), "--good-size", good, "--why", "A stolen disk."]
        assert main(["key", "compromised", *words]) == 0
        look(phone)
        alarm = phone.page.locator("[data-notice=witness]")
        expect(alarm).to_contain_text("the old key does not vouch for it")
