"""The commands of a checkout: `demo` shows the program, `test` checks it.

Standard library only, and in words that an old Python can still parse, for this file is read
before anything is installed. Both commands keep their packages in `.venv` beside this folder;
a stamp there makes the second run quick. Whatever is missing ends the command with status 2
and a line that says what to do.
"""

from __future__ import annotations

import hashlib
import importlib
import importlib.util
import os
import shutil
import subprocess
import sys
import venv
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
LOCKS = ROOT / "tests" / "locks"
LOCK_SOURCES = {
    "run": ("--extra", "pdf", "--group", "checkout"),
    "test": ("--extra", "test", "--extra", "postgres", "--extra", "pdf"),
}
PYTEST = ("-n", "3", "--dist", "loadfile", "--no-loadscope-reorder")
"""Three processes for two cores, for one of them waits for a browser; a file stays in one."""
UV_OPTIONS = (
    "--universal",
    "--generate-hashes",
    "--no-strip-extras",  # else pip wants a newer release of what is asked for with one
    "--no-emit-index-url",  # a lock names no place
    "--no-header",
    "--quiet",
)
OLDEST = (3, 11)
NOT_READY = 2
USAGE = """\
usage: python3 tests/run.py demo [options of `windtee demo`]   start the demo school
       python3 tests/run.py test [options of pytest]           run the tests
       python3 tests/run.py lock [options of uv]               renew tests/locks (needs uv)"""


class NotReadyError(Exception):
    """Something is missing; the message says what to do about it."""


class Tool(NamedTuple):
    """What must be on the machine: the Debian package that brings it, and how it is seen."""

    package: str
    present: Callable[[], bool]


class Machine(NamedTuple):
    """Where the command runs.

    `install` takes package names, and is None where nobody may install; `become` hands over to
    a program with its words, and answers its status where it comes back.
    """

    version: Sequence[int]
    install: Callable[[Sequence[str]], None] | None
    become: Callable[[str, Sequence[str]], int]
    for_venv: tuple[Tool, ...]
    for_tests: tuple[Tool, ...]


def found(pattern: str) -> Callable[[], bool]:
    """A check that some file matches an absolute pattern."""
    return lambda: any(Path("/").glob(pattern.lstrip("/")))


def _has_ensurepip() -> bool:
    importlib.invalidate_caches()
    return importlib.util.find_spec("ensurepip") is not None


CHROMIUM = "/usr/bin/chromium"
INITDB = "/usr/lib/postgresql/*/bin/initdb"
FONT = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf"
PANGO = "/usr/lib/*/libpangoft2-1.0.so.0"
STRACE = "/usr/bin/strace"
HARFBUZZ = "/usr/lib/*/libharfbuzz-subset.so.0"
FOR_TESTS = (
    Tool("chromium", found(CHROMIUM)),
    Tool("libpangoft2-1.0-0", found(PANGO)),
    Tool("libharfbuzz-subset0", found(HARFBUZZ)),
    Tool("postgresql", found(INITDB)),
    Tool("fonts-dejavu-core", found(FONT)),
    Tool("strace", found(STRACE)),
)
FOR_VENV = (Tool("python3-venv", _has_ensurepip),)


def check_python(version: Sequence[int]) -> None:
    """NotReadyError when this Python is too old to run the program."""
    if tuple(version[:2]) < OLDEST:
        have, need = (".".join(map(str, one)) for one in (version[:2], OLDEST))
        raise NotReadyError(
            f"Windtee needs Python {need} or newer; this is Python {have}.\n"
            f"Start it with a newer one, such as: python{need} tests/run.py"
        )


def apt_line(packages: Sequence[str]) -> str:
    """The line that installs these packages on Debian, for a person to copy."""
    names = " ".join(packages)
    return f"apt-get update && apt-get install -y --no-install-recommends {names}"


def apt_install(packages: Sequence[str]) -> None:
    """Install Debian packages; NotReadyError when apt-get fails."""
    print(f"Installing {', '.join(packages)} with apt-get.", flush=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        if subprocess.run(["apt-get", "-qq", *words], env=environment, check=False).returncode:
            raise NotReadyError(f"apt-get {words[0]} failed. Try: {apt_line(packages)}")


def provide(
    tools: Sequence[Tool],
    install: Callable[[Sequence[str]], None] | None,
) -> None:
    """See that all tools are there, installing what is not; NotReadyError with the apt line."""
    missing = [tool.package for tool in tools if not tool.present()]
    if missing and install is not None:
        install(missing)
        missing = [tool.package for tool in tools if not tool.present()]
    if missing:
        raise NotReadyError(
            f"Missing on this machine: {', '.join(missing)}.\n"
            f"Install as root, then run this again:\n  {apt_line(missing)}"
        )


def fingerprint(lock: bytes, interpreter: str) -> str:
    """What a stamp holds: changes with the lock's content and with the interpreter."""
    return hashlib.sha256(interpreter.encode() + b"\0" + lock).hexdigest()


def _stamp_of(name: str) -> tuple[Path, str]:
    interpreter = f"{sys.base_prefix} {sys.version} {VENV}"
    content = fingerprint((LOCKS / f"{name}.txt").read_bytes(), interpreter)
    return VENV / f"{name}.stamp", content


def _is_ready(name: str) -> bool:
    stamp, content = _stamp_of(name)
    return stamp.is_file() and stamp.read_text() == content


def _program(name: str) -> str:
    return str(VENV / ("Scripts" if os.name == "nt" else "bin") / name)


def _pip(*words: str) -> None:
    command = [_program("python"), "-m", "pip", "install", "-qq", "--no-input", *words]
    if subprocess.run([*command, "--disable-pip-version-check"], check=False).returncode:
        raise NotReadyError("pip could not install what the lock names; it said why above.")


def prepare(name: str, machine: Machine) -> None:
    """Fill `.venv` from the lock `name`, unless its stamp says that this was done."""
    if _is_ready(name):
        return
    if not any(_is_ready(other) for other in LOCK_SOURCES):
        provide(machine.for_venv, machine.install)
        print("Making .venv; the first time takes half a minute.", flush=True)
        venv.create(VENV, clear=True, with_pip=True)
    _pip("--require-hashes", "--requirement", str(LOCKS / f"{name}.txt"))
    _pip("--no-deps", "--no-build-isolation", "--editable", str(ROOT))
    stamp, content = _stamp_of(name)
    stamp.write_text(content)


def become(program: str, words: Sequence[str]) -> int:
    """Hand over to a program; where a process cannot be replaced, wait for its status."""
    if os.name != "nt":
        sys.stdout.flush()
        os.execv(program, [program, *words])  # noqa: S606 - no shell is meant
    return subprocess.run([program, *words], check=False).returncode


def demo(words: Sequence[str], machine: Machine) -> int:
    """Become `windtee demo`."""
    prepare("run", machine)
    return machine.become(_program("windtee"), ["demo", *words])


def test(words: Sequence[str], machine: Machine) -> int:
    """Become pytest; its status is ours."""
    provide(machine.for_tests, machine.install)
    prepare("test", machine)
    os.chdir(ROOT)
    return machine.become(_program("python"), ["-m", "pytest", *PYTEST, *words])


def lock(words: Sequence[str], _machine: Machine) -> int:
    """Write both locks anew from pyproject.toml; `--upgrade` takes newer releases."""
    uv = shutil.which("uv")
    if uv is None:
        raise NotReadyError("Locks are made by uv, which is not on the path.")
    python = ".".join(map(str, OLDEST))
    for name, source in LOCK_SOURCES.items():
        target = ["--python-version", python, "--output-file", f"tests/locks/{name}.txt"]
        command = [
            uv,
            "pip",
            "compile",
            "pyproject.toml",
            *source,
            *UV_OPTIONS,
            *target,
            *words,
        ]
        if subprocess.run(command, cwd=ROOT, check=False).returncode:
            raise NotReadyError(f"uv could not make the lock {name}; it said why above.")
    return 0


COMMANDS = {"demo": demo, "test": test, "lock": lock}


def this_machine() -> Machine:
    """The machine at hand: root with apt-get may install."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    install = apt_install if is_root and shutil.which("apt-get") else None
    return Machine(sys.version_info, install, become, FOR_VENV, FOR_TESTS)


def main(arguments: Sequence[str], machine: Machine) -> int:
    """Run one command; its status, or 2 with words on standard error."""
    if not arguments or arguments[0] not in COMMANDS:
        print(USAGE, file=sys.stderr)
        return NOT_READY
    try:
        check_python(machine.version)
        return COMMANDS[arguments[0]](arguments[1:], machine)
    except NotReadyError as missing:
        print(missing, file=sys.stderr)
        return NOT_READY


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], this_machine()))
