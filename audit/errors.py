"""What can go wrong outside the audio: each error says file, cause and cure, and owns its exit code."""

from __future__ import annotations

EXIT_CLEAN = 0
EXIT_FINDINGS = 1
EXIT_USAGE = 2
EXIT_INCOMPLETE = 3
EXIT_INTERRUPTED = 130


class AuditError(Exception):
    """Base of every error that is the user's to mend; the message is one line: file, cause, cure."""

    exit_code: int = EXIT_USAGE


class UsageError(AuditError):
    """A wrong argument: a folder that is not there, a rule that does not exist."""

    exit_code = EXIT_USAGE


class SettingsError(AuditError):
    """The show's settings or a set list hold mistakes: one line each, all of them."""

    exit_code = EXIT_USAGE


class OutputError(AuditError):
    """A report could not be written where it was asked for."""

    exit_code = EXIT_USAGE


class UnreadableAudioError(AuditError):
    """One stem cannot be decoded. The pipeline turns it into a finding; it never stops a scan."""

    exit_code = EXIT_INCOMPLETE


class ExhaustedError(UnreadableAudioError):
    """The system ran out of open files or memory when a stem's turn came: nothing is known of the stem."""


class BadSamplesError(AuditError, ValueError):
    """A measure was handed something that is not audio: wrong shape, or values that are not finite."""

    exit_code = EXIT_INCOMPLETE
