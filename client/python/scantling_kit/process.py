"""The helper process as the kit sees it: started, written to, read from on a thread, gone.

What a host's own environment says about its interpreter (PYTHONHOME, PYTHONPATH, LD_LIBRARY_PATH) would break
the helper's, so it is left out. The helper gets a process group of its own: Ctrl-C at a terminal is for the
host.
"""

import os
import subprocess
import tempfile
import threading
from dataclasses import dataclass, field
from typing import Any, Callable, Dict, Mapping, Optional, Sequence

from . import framing

_LEFT_OUT = ("PYTHONHOME", "PYTHONPATH", "PYTHONSTARTUP", "LD_LIBRARY_PATH", "__PYVENV_LAUNCHER__")
_MOST_LAST_WORDS = 2000

DEFAULT_PYTHON = "/usr/bin/python3" if os.path.exists("/usr/bin/python3") else "python3"


@dataclass(frozen=True)
class HelperOptions:
    """How the helper is run.

    python       the interpreter that has grpcio and protobuf
    descriptors  the message descriptions the build wrote; None: beside the package, or as SCANTLING_MESSAGES
                 says
    environment  further variables for it
    arguments    further arguments for the interpreter, before -m
    """

    python: str = os.environ.get("SCANTLING_PYTHON", DEFAULT_PYTHON)
    descriptors: Optional[str] = None
    environment: Mapping[str, str] = field(default_factory=dict)
    arguments: Sequence[str] = ()


class HelperGone(Exception):
    """The helper cannot be started, or is not there any more."""


class HelperProcess:
    """One run of the helper. write() from one thread; frames and the end arrive by callback on another."""

    def __init__(self, options: HelperOptions, on_frame: Callable[[Dict[str, Any]], None],
                 on_end: Callable[[str], None]) -> None:
        """Starts it. HelperGone where that is not possible."""
        self._words = tempfile.TemporaryFile()
        try:
            self._process = subprocess.Popen(
                [options.python, *options.arguments, "-m", "scantling_kit.helper"], stdin=subprocess.PIPE,
                stdout=subprocess.PIPE, stderr=self._words, env=_environment(options), start_new_session=True)
        except OSError as error:
            self._words.close()
            raise HelperGone(f"cannot start the helper with {options.python}: {error}") from error
        self._on_frame = on_frame
        self._on_end = on_end
        self.pid = self._process.pid
        threading.Thread(target=self._read, name="scantling helper", daemon=True).start()
        try:
            self.write({"do": "hello", "version": framing.VERSION})
        except HelperGone:
            self.end()
            raise

    def write(self, header: Dict[str, Any]) -> None:
        """Sends one frame. HelperGone where the pipe is closed."""
        assert self._process.stdin is not None
        try:
            framing.write(self._process.stdin, header)
        except (OSError, ValueError) as error:
            raise HelperGone(f"the helper is gone: {error}") from error

    def end(self, patience_s: float = 0.0) -> None:
        """Closes its input, which ends it; kills it where it does not end in time."""
        try:
            assert self._process.stdin is not None
            self._process.stdin.close()
        except OSError:
            pass
        try:
            self._process.wait(timeout=patience_s)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _read(self) -> None:
        assert self._process.stdout is not None
        why = ""
        try:
            while True:
                frame = framing.read(self._process.stdout)
                if frame is None:
                    break
                self._on_frame(frame)
        except (framing.FramingError, OSError, ValueError) as error:
            why = str(error)
            self._process.kill()
        code = self._process.wait()
        self._process.stdout.close()
        self._on_end(f"the helper ended with {code}; {why} {self._last_words()}".rstrip())

    def _last_words(self) -> str:
        try:
            size = self._words.seek(0, os.SEEK_END)
            self._words.seek(max(0, size - _MOST_LAST_WORDS))
            words = self._words.read().decode("utf-8", errors="replace").strip()
            self._words.close()
        except (OSError, ValueError):
            return ""
        return f"it said: {words}" if words else ""


def _environment(options: HelperOptions) -> Dict[str, str]:
    environment = {name: value for name, value in os.environ.items() if name not in _LEFT_OUT}
    environment["PYTHONPATH"] = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    environment["PYTHONDONTWRITEBYTECODE"] = "1"
    if options.descriptors is not None:
        environment["SCANTLING_MESSAGES"] = options.descriptors
    environment.update(options.environment)
    return environment
