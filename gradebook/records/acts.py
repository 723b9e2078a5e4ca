"""What each action is, in words: for the audit trail and the table of permissions. Pure."""

from collections.abc import Mapping

from gradebook.records.permissions import Action
from syllabus.saying import say

WORDS: Mapping[str, str] = {
    Action.HOME_READ: say("Open the home page"),
    Action.ACCOUNT_KEEP: say("Sign in, and keep one's own account"),
    Action.STUDENT_READ: say("Read a student's page"),
    Action.RECORD_READ: say("Read a lesson record"),
    Action.RECORD_OPEN: say("Open a grading card"),
    Action.RECORD_GRADE: say("Grade a lesson"),
    Action.RECORD_SIGN: say("Sign a lesson record"),
    Action.RECORD_DISCARD: say("Throw a draft away"),
    Action.RECORD_ACKNOWLEDGE: say("Acknowledge a record"),
    Action.RECORD_HAND_OVER: say("Let the student acknowledge here"),
    Action.RECORD_AMEND: say("Amend a record"),
    Action.RECORD_VOID: say("Declare a record void"),
    Action.SELF_GRADE: say("Grade oneself"),
    Action.WATCH_CLOSE: say("Close a watch item"),
    Action.EVENT_FILE: say("Put something on file"),
    Action.CHECK_RECOMMEND: say("Recommend for a stage check"),
    Action.CHECK_APPROVE: say("Approve a stage check"),
    Action.BOARD_READ: say("Read the readiness board"),
    Action.SCHOOL_READ: say("Read the school watch"),
    Action.AUDIT_READ: say("Read the audit trail"),
    Action.LEDGER_READ: say("Read the ledger"),
    Action.SYLLABUS_READ: say("Read the syllabus"),
    Action.ENROL: say("Enrol a student"),
    Action.ASSIGN: say("Assign an instructor"),
    Action.END: say("End an enrolment"),
    Action.IMPORT: say("Import earlier records"),
    Action.CERTIFY: say("Certify a copy"),
    Action.COPY_READ: say("Read a copy"),
    Action.COPY_REQUEST: say("Make one's own copy"),
    Action.FOREIGN_TAKE: say("Take in a record from another school"),
    Action.WORK_READ: say("Follow long work one asked for"),
    Action.PHONE_ADD: say("Let a phone sign"),
    Action.PEOPLE_READ: say("Read the list of people"),
    Action.PEOPLE_CHANGE: say("Change people, roles or links"),
    Action.PEOPLE_CONFIRM: say("Confirm what another asked for"),
    Action.RETENTION_READ: say("Read whose records are past retention"),
    Action.RETENTION_SET: say("Set how long records are kept"),
    Action.ERASURE_ASK: say("Ask for a student's records to be erased"),
    Action.ERASURE_CONFIRM: say("Confirm that records are erased"),
    Action.PERMISSIONS_READ: say("Read the permissions"),
    Action.HEALTH_READ: say("Read how safe the installation is"),
    "system:key-rotate": say("The school's key was changed"),
    "system:key-compromised": say("The school's key was declared compromised"),
}
REBUILT = "system:rebuild"
BY_NOBODY: Mapping[str, str] = {
    "erased": say("Erased"),
    "system:erase": say("Erase a student's records"),
    "system:backup": say("Back the records up"),
    "system:restore": say("Restore a backup"),
    "system:drill": say("Try whether a backup can be restored"),
    REBUILT: say("Write rows again as the ledger has them"),
}
"""What stands in the trail and is nobody's permission."""


def action_words(action: str) -> str:
    """An action in words; its code when it is not one of ours."""
    return WORDS.get(action) or BY_NOBODY.get(action, action)
