"""What every phone keeps of Windtee holds nothing of anybody."""

import json
import re
import struct

from tests.cast import TestSchool


def test_the_shell_is_the_same_for_everybody(school: TestSchool) -> None:
    stranger = school.visitor().get("/phone/shell")
    assert school.visitor("ben").get("/phone/shell") == stranger
    assert "csrf_token" not in stranger
    assert "data-person" not in stranger


def test_the_worker_is_asked_for_anew_and_lists_public_files_alone(school: TestSchool) -> None:
    answer = school.visitor("ben").client.get("/sw.js")
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.mimetype == "text/javascript"
    found = re.search(r"^const ASSETS = (.+);$", answer.text, re.M)
    assert found
    listed = [address for address, _ in json.loads(found[1])]
    personal = [one for one in listed if not one.startswith("/static/")]
    assert personal == ["/phone/shell"]
    client = school.visitor().client
    assert {client.get(one).status_code for one in listed} == {200}


def test_another_shell_is_another_version(school: TestSchool) -> None:
    client = school.visitor().client
    before = client.get("/sw.js").text.splitlines()[1]
    school.app.jinja_env.globals["say"] = lambda text, **_: f"{text}!"
    after = client.get("/sw.js").text.splitlines()[1]
    assert before.startswith("const VERSION")
    assert after != before


def test_the_manifest_names_icons_of_the_sizes_it_says(school: TestSchool) -> None:
    client = school.visitor().client
    told = json.loads(client.get("/manifest.webmanifest").text)
    assert (told["start_url"], told["scope"], told["display"]) == ("/", "/", "standalone")
    purposes = set()
    for icon in told["icons"]:
        picture = client.get(icon["src"]).data
        width, height = struct.unpack(">II", picture[16:24])  # IHDR of a PNG
        assert f"{width}x{height}" == icon["sizes"]
        purposes.add((icon["sizes"], icon["purpose"]))
    sizes = ("192x192", "512x512")
    assert purposes == {(size, kind) for size in sizes for kind in ("any", "maskable")}


def test_pages_of_a_person_are_kept_by_nobody(school: TestSchool) -> None:
    ben = school.visitor("ben").client
    for path in ("/", "/api/token", "/api/pocket", "/account/phones"):
        assert ben.get(path).headers["Cache-Control"] == "no-store"


def test_nothing_below_api_answers_with_a_page(school: TestSchool) -> None:
    stranger = school.visitor().client
    for path in ("/api/token", "/api/pocket", "/api/nothing"):
        answer = stranger.get(path)
        assert answer.status_code in (401, 404)
        assert answer.mimetype == "application/json"
