"""Passkeys as second factors: the questions put to one, and its answers checked (WebAuthn)."""

import json
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any

import webauthn
from sqlalchemy.orm import Session
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
)

from gradebook.records.act import Act
from gradebook.records.faults import ConflictError, InvalidError, Problem
from gradebook.records.store import accounts
from gradebook.records.tables.people import LoginSession, SecondFactor
from syllabus.saying import say

REFUSED = say("The passkey did not answer as it should. Try again, or use a code.")


@dataclass(frozen=True, slots=True)
class Site:
    """What a second factor is bound to: the installation's key, the school, its address.

    `host` is a name without port, `origin` the scheme, name and port a browser shows.
    """

    key: str
    school: str
    host: str
    origin: str

    @property
    def takes_passkeys(self) -> bool:
        """Browsers keep passkeys for a name, never for an address made of numbers."""
        try:
            ip_address(self.host)
        except ValueError:
            return True
        return False


def ask_to_join(act: Act, session_id: str, email: str, site: Site) -> dict[str, Any]:
    """What a browser needs to make a passkey for the actor; the session keeps the challenge."""
    asked = webauthn.generate_registration_options(
        rp_id=site.host,
        rp_name=site.school,
        user_id=act.actor.person_id.encode(),
        user_name=email,
        user_display_name=act.actor.name,
        exclude_credentials=_descriptors(act.session, act.actor.person_id),
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.DISCOURAGED
        ),
    )
    _session(act.session, session_id).challenge = bytes_to_base64url(asked.challenge)
    return _plain(webauthn.options_to_json(asked))


def ask_to_show(
    session: Session, session_id: str, person_id: str, site: Site
) -> dict[str, Any]:
    """What a browser needs to ask one of this person's passkeys; the challenge is kept."""
    asked = webauthn.generate_authentication_options(
        rp_id=site.host, allow_credentials=_descriptors(session, person_id)
    )
    _session(session, session_id).challenge = bytes_to_base64url(asked.challenge)
    return _plain(webauthn.options_to_json(asked))


def joined(act: Act, session_id: str, answer: str, label: str, site: Site) -> SecondFactor:
    """The row of a new passkey, checked; InvalidError when the answer does not fit."""
    try:
        made = webauthn.verify_registration_response(
            credential=_plain(answer),
            expected_challenge=_challenge(act.session, session_id),
            expected_rp_id=site.host,
            expected_origin=site.origin,
        )
    except (WebAuthnException, ValueError, KeyError, TypeError) as fault:
        raise InvalidError(Problem("passkey", REFUSED)) from fault
    return SecondFactor(
        person_id=act.actor.person_id,
        kind="passkey",
        label=label,
        sealed=made.credential_public_key,
        credential=bytes_to_base64url(made.credential_id),
        counter=made.sign_count,
        created_at=act.at,
    )


def shown(act: Act, session_id: str, person_id: str, answer: str, site: Site) -> SecondFactor:
    """The passkey that answered; InvalidError when none of this person's did."""
    try:
        told = _plain(answer)
        row = next(
            one
            for one in accounts.factors_of(act.session, person_id, "passkey")
            if one.credential == told["id"]
        )
        found = webauthn.verify_authentication_response(
            credential=told,
            expected_challenge=_challenge(act.session, session_id),
            expected_rp_id=site.host,
            expected_origin=site.origin,
            credential_public_key=row.sealed,
            credential_current_sign_count=row.counter,
        )
    except (WebAuthnException, ValueError, KeyError, TypeError, StopIteration) as fault:
        raise InvalidError(Problem("code", REFUSED)) from fault
    row.counter, row.used_at = found.new_sign_count, act.at
    return row


def _challenge(session: Session, session_id: str) -> bytes:
    """The challenge kept for this session, which is spent with this."""
    row = _session(session, session_id)
    kept, row.challenge = row.challenge, None
    if kept is None:
        raise ValueError("no question was put")
    return base64url_to_bytes(kept)


def _session(session: Session, session_id: str) -> LoginSession:
    row = session.get(LoginSession, session_id)
    if row is None:
        raise ConflictError(say("This session has ended. Sign in again."))
    return row


def _descriptors(session: Session, person_id: str) -> list[PublicKeyCredentialDescriptor]:
    return [
        PublicKeyCredentialDescriptor(id=base64url_to_bytes(row.credential))
        for row in accounts.factors_of(session, person_id, "passkey")
        if row.credential
    ]


def _plain(text: str) -> dict[str, Any]:
    found = json.loads(text)
    if not isinstance(found, dict):
        raise TypeError("not an object")
    return found
