"""The entry: finds the command, loads only that, and turns every error into one sentence.

Exit codes: 0 done; 1 the input or the data cannot answer; 2 wrong use;
130 stopped by Ctrl-C.
"""

from __future__ import annotations

import os
import sys

from advisor.cli.commands import COMMANDS, help_text

WORKSPACE_VARIABLE = "MAKEWORTH_WORKSPACE"
TRACE_VARIABLE = "MAKEWORTH_TRACE"
THREADS_VARIABLE = "OPENBLAS_NUM_THREADS"


def main(arguments: list[str] | None = None) -> int:
    """Run one command line and return its exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    if words in (["--help"], ["-h"], []):
        sys.stdout.write(help_text())
        return 0
    if words == ["--version"]:
        from advisor import __version__

        sys.stdout.write(f"makeworth {__version__}\n")
        return 0
    os.environ.setdefault(THREADS_VARIABLE, "1")  # vectors are short: threads only wait
    return _guarded(words)


def _guarded(words: list[str]) -> int:
    """Run the command inside the one error boundary."""
    from advisor.errors import MakeworthError

    try:
        return _run(words)
    except MakeworthError as fault:
        return _tell(str(fault), fault.exit_code)
    except KeyboardInterrupt:
        return _tell("stopped; nothing is half-written", 130)
    except BrokenPipeError:
        _close_stdout()
        return 0
    except OSError as fault:
        if _wants_trace():
            raise
        place = f"{fault.filename}: " if fault.filename else ""
        return _tell(f"{place}{(fault.strerror or str(fault)).lower()}", 1)
    except Exception as fault:
        if _wants_trace():
            raise
        return _tell(
            f"a fault of Makeworth itself, not of your input: {type(fault).__name__}: {fault}; "
            f"set {TRACE_VARIABLE}=1 to see where",
            1,
        )


def _run(words: list[str]) -> int:
    from advisor.errors import WrongUse

    words = _take_workspace(words)
    if not words:
        raise WrongUse("no command given", right="see makeworth --help")
    name, *rest = words
    if name in ("--help", "-h"):
        sys.stdout.write(help_text())
        return 0
    if name not in COMMANDS:
        from advisor.names import did_you_mean

        right = did_you_mean(name, COMMANDS) or "see makeworth --help"
        raise WrongUse(f"no command {name!r}", right=right)
    return _dispatch(name, rest)


def _take_workspace(words: list[str]) -> list[str]:
    """Read a leading -w DIR; a -w behind the command is the command's own."""
    import os

    from advisor.errors import WrongUse

    while words and (words[0] in ("-w", "--workspace") or words[0].startswith("--workspace=")):
        option, *rest = words
        if "=" in option:
            value = option.partition("=")[2]
        elif rest:
            value, *rest = rest
        else:
            raise WrongUse(f"{option} needs a folder", right="makeworth -w DIR COMMAND")
        os.environ[WORKSPACE_VARIABLE] = value
        words = rest
    return words


def _dispatch(name: str, rest: list[str]) -> int:
    from importlib import import_module

    from typer.exceptions import Abort, Exit, TyperException
    from typer.main import get_command

    from advisor.errors import WrongUse

    app = import_module(COMMANDS[name].module).app
    command = get_command(app)
    try:
        code = command.main(rest, prog_name=f"makeworth {name}", standalone_mode=False)
        sys.stdout.flush()
    except Exit as leave:
        return leave.exit_code
    except Abort:
        raise KeyboardInterrupt from None
    except TyperException as fault:
        said = fault.format_message().rstrip(".")
        raise WrongUse(said[:1].lower() + said[1:], right=f"see makeworth {name} --help") from None
    return code if isinstance(code, int) else 0


def _tell(sentence: str, code: int) -> int:
    from advisor.cli.screen import say_beside

    sys.stdout.flush()
    say_beside(sentence, mark="makeworth: ")
    return code


def _wants_trace() -> bool:
    import os

    return os.environ.get(TRACE_VARIABLE) == "1"


def _close_stdout() -> None:
    """Point stdout at nowhere, so that the interpreter's own last flush is quiet."""
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
