"""A request that nobody began in time is told so, and nothing of it is done."""

import http.client
import signal
import socket
from pathlib import Path
from select import select
from struct import unpack_from
from urllib.parse import urlencode

from tests.cast import SECRET, close_school
from tests.faults.clients import Browser
from tests.faults.drillschool import DrillSchool
from tests.faults.processes import Group, running_group

LAST_SENT = 44
"""Where `tcpi_last_data_sent` lies in Linux's `struct tcp_info`: milliseconds, 32 bits."""
WAITED = 2100


def lain(connection: socket.socket) -> int:
    """Milliseconds since we sent the last byte."""
    told = connection.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, LAST_SENT + 4)
    milliseconds: int = unpack_from("=I", told, LAST_SENT)[0]
    return milliseconds


def answered_late(
    group: Group, browser: Browser, *asked: tuple[str, str, str | None]
) -> list[http.client.HTTPResponse]:
    """Answers to requests (method, path, body) that came while no worker took any."""
    cookies = "; ".join(f"{name}={value}" for name, value in browser.cookies.items())
    headers = {
        "Cookie": cookies,
        "Origin": "http://{}:{}".format(*group.address),
        "Content-Type": "application/x-www-form-urlencoded",
    }
    group.signal(signal.SIGSTOP)
    waiting = []
    for method, path, body in asked:
        connection = http.client.HTTPConnection(*group.address, timeout=60)
        connection.request(method, path, body, headers)
        waiting.append(connection)
    for connection in waiting:
        while lain(connection.sock) < WAITED:
            assert not select([connection.sock], [], [], 0.1)[0]
    group.signal(signal.SIGCONT)
    return [connection.getresponse() for connection in waiting]


def test_what_waited_too_long_is_sent_away_undone_and_goes_through_when_sent_again(
    tmp_path: Path,
) -> None:
    made = DrillSchool(tmp_path)
    draft = made.drafts("teacher0", 1)[0]
    path = f"/lessons/{draft.record}/sign"
    with running_group(tmp_path, made.school.settings.database, "hurried") as group:
        browser = Browser(group.address, "teacher0")
        browser.sign_in()
        fields = {"version": str(draft.version), "secret": SECRET, "csrf_token": browser.token}
        refused, page, script, alive = answered_late(
            group,
            browser,
            ("POST", path, urlencode(fields)),
            ("GET", "/", None),
            ("GET", "/static/any/js/words.js", None),
            ("GET", "/alive", None),
        )
        again = browser.sign(draft)
    close_school(made.school)
    assert [one.status for one in (refused, page, script, alive)] == [503, 503, 200, 200]
    assert int(refused.headers["Retry-After"]) > 0
    assert "nothing of it was done" in refused.read().decode()
    assert "default-src 'none'" in refused.headers["Content-Security-Policy"]
    assert again.status == 303
