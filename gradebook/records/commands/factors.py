"""Second factors: code generators, passkeys and recovery codes; added, shown, removed."""

from dataclasses import dataclass

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from gradebook.records import onetime, sealing, secrets
from gradebook.records.act import Act
from gradebook.records.commands import passkeys
from gradebook.records.commands.passkeys import Site
from gradebook.records.commands.throttling import digest
from gradebook.records.faults import InvalidError, Problem, UnknownError
from gradebook.records.permissions import Action, Actor, Role
from gradebook.records.store import accounts
from gradebook.records.tables.people import RecoveryCode, SecondFactor
from syllabus.saying import say

WRONG = say("This code is not right, or it was used before. Wait for the next one.")
MOST = 10


@dataclass(frozen=True, slots=True)
class Shown:
    """What somebody shows as a second factor: a code typed, or what a passkey answered."""

    code: str = ""
    passkey: str = ""


def needed(actor: Actor) -> bool:
    """Whether somebody with these roles must have a second factor: all but students."""
    return bool(actor.roles - {Role.STUDENT})


def show(act: Act, session_id: str, person_id: str, shown: Shown, site: Site) -> str:
    """The kind of factor that was shown and stands; InvalidError at `code` when none does.

    A code is taken once; a recovery code is spent.
    """
    if shown.passkey:
        return passkeys.shown(act, session_id, person_id, shown.passkey, site).kind
    for row in _held_factors(act.session, person_id):
        generator = sealing.unseal(row.sealed, site.key, person_id)
        step = generator and onetime.step_of(generator, shown.code, act.at, row.counter)
        if step:
            row.counter, row.used_at = int(step), act.at
            return row.kind
    if _spend(act, person_id, shown.code):
        return say("recovery code")
    raise InvalidError(Problem("code", WRONG))


def _held_factors(session: Session, person_id: str) -> list[SecondFactor]:
    """The code generators; writers come one after another, so no code counts twice."""
    query = select(SecondFactor).where(
        SecondFactor.person_id == person_id, SecondFactor.kind == "code"
    )
    return list(session.scalars(query))


def _spend(act: Act, person_id: str, typed: str) -> bool:
    query = select(RecoveryCode).where(
        RecoveryCode.person_id == person_id,
        RecoveryCode.digest == digest(onetime.bare(typed)),
        RecoveryCode.used_at.is_(None),
    )
    row = act.session.scalars(query).first()
    if row is None:
        return False
    row.used_at = act.at
    left = accounts.codes_left(act.session, person_id)
    act.note(Action.ACCOUNT_KEEP, person_id, None, used_recovery_code=True, left=left)
    return True


def offer(actor: Actor, site: Site) -> tuple[str, str]:
    """A new code generator: its secret, and the same sealed for the form to carry."""
    generator = onetime.new_generator()
    return generator, sealing.seal(generator, site.key, actor.person_id).hex()


def offered(actor: Actor, sealed: str, site: Site) -> str | None:
    """The secret a form has carried, or None when it was not offered to this actor."""
    try:
        return sealing.unseal(bytes.fromhex(sealed), site.key, actor.person_id)
    except ValueError:
        return None


def add_generator(act: Act, sealed: str, typed: str, label: str, site: Site) -> list[str]:
    """Keep an offered code generator once it has shown a code; recovery codes if it is first.

    InvalidError at `code` when the code is not its own.
    """
    generator = offered(act.actor, sealed, site)
    step = generator and onetime.step_of(generator, typed, act.at, 0)
    if not step:
        words = say(
            "This is not the code of this generator. Check its clock, and type the next."
        )
        raise InvalidError(Problem("code", words))
    row = SecondFactor(
        person_id=act.actor.person_id,
        kind="code",
        label=label.strip() or say("Code generator"),
        sealed=bytes.fromhex(sealed),
        counter=int(step),
        created_at=act.at,
    )
    return _add(act, row)


def add_passkey(act: Act, session_id: str, answer: str, label: str, site: Site) -> list[str]:
    """Keep a new passkey; recovery codes if it is the first factor."""
    named = label.strip() or "Passkey"
    return _add(act, passkeys.joined(act, session_id, answer, named, site))


def _add(act: Act, row: SecondFactor) -> list[str]:
    held = accounts.factors_of(act.session, row.person_id)
    if len(held) >= MOST:
        raise InvalidError(
            Problem("code", say("At most {most} factors; remove one first.", most=MOST))
        )
    act.session.add(row)
    act.session.flush()
    act.note(Action.ACCOUNT_KEEP, row.person_id, None, added_factor=row.kind, label=row.label)
    return [] if held else recovery_codes(act)


def recovery_codes(act: Act) -> list[str]:
    """Ten new recovery codes for the actor; the ones before are void."""
    mine = act.actor.person_id
    act.session.execute(delete(RecoveryCode).where(RecoveryCode.person_id == mine))
    codes = onetime.recovery_codes()
    act.session.add_all(
        RecoveryCode(person_id=mine, digest=digest(onetime.bare(code)), made_at=act.at)
        for code in codes
    )
    act.note(Action.ACCOUNT_KEEP, mine, None, made_recovery_codes=len(codes))
    return codes


def factor(act: Act, factor_id: str) -> SecondFactor:
    """One of the actor's own factors; UnknownError for anybody else's."""
    row = act.session.get(SecondFactor, factor_id)
    if row is None or row.person_id != act.actor.person_id:
        raise UnknownError
    return row


def remove(act: Act, factor_id: str, *, mandatory: bool, secret: str) -> None:
    """Remove one of the actor's own factors, not the last when one is `mandatory`.

    A secret that then stands alone has to be long enough for that; the caller has checked it.
    """
    row = factor(act, factor_id)
    last = len(accounts.factors_of(act.session, row.person_id)) == 1
    if last and mandatory:
        words = say("Your role needs a second factor: add another before you remove this one.")
        raise InvalidError(Problem("secret", words))
    if last and len(secrets.plain(secret)) < secrets.SHORTEST_ALONE:
        words = say(
            "Your secret would stand alone and is shorter than {shortest_alone} "
            "characters: change it first.",
            shortest_alone=secrets.SHORTEST_ALONE,
        )
        raise InvalidError(Problem("secret", words))
    act.session.delete(row)
    if last:
        _drop_codes(act.session, row.person_id)
    act.note(Action.ACCOUNT_KEEP, row.person_id, None, removed_factor=row.kind, label=row.label)


def clear(session: Session, person_id: str) -> None:
    """Remove every factor and recovery code of a person: they are lost."""
    session.execute(delete(SecondFactor).where(SecondFactor.person_id == person_id))
    _drop_codes(session, person_id)


def _drop_codes(session: Session, person_id: str) -> None:
    session.execute(delete(RecoveryCode).where(RecoveryCode.person_id == person_id))
