"""What the exit codes mean."""

from enum import IntEnum


class ExitCode(IntEnum):
    """How a command ended."""

    DONE = 0
    PROBLEM = 1
    NOT_DONE = 2
    UNREPORTED = 3
    FAULT = 70
    """As in sysexits.h."""
    STOPPED = 130
    """As shells have it for SIGINT."""


MEANINGS = {
    ExitCode.DONE: "done",
    ExitCode.PROBLEM: "`check` found a problem",
    ExitCode.NOT_DONE: "not done; standard error has the reason in one sentence",
    ExitCode.UNREPORTED: "done, but the report couldn't be written",
    ExitCode.FAULT: "a fault in Stillroom; the message names the log file",
    ExitCode.STOPPED: "stopped with Ctrl-C",
}
