"""A daemon of one's own, for examples and tests: on a fresh socket, ended with the process that started
it."""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from typing import Optional, Sequence

_PATIENCE_S = 20.0
_POLL_S = 0.01


class DaemonNotStarted(Exception):
    """It ended, or did not answer in time; with its last words."""


class PrivateDaemon:
    """`scantlingd` on a socket in a folder that only this user can enter. Not thread-safe."""

    def __init__(self, program: str, config: Optional[str] = None, arguments: Sequence[str] = ()) -> None:
        """Starts it and waits until its socket answers, at most some twenty seconds. DaemonNotStarted,
        OSError."""
        self._folder = tempfile.mkdtemp(prefix="scantling-")
        self._socket = os.path.join(self._folder, "scantlingd.sock")
        self._log = os.path.join(self._folder, "log")
        self._command = [program, "--listen", self.address, "--exit-with-parent", *arguments]
        if config is not None:
            self._command += ["--config", config]
        self._process: "Optional[subprocess.Popen[bytes]]" = None
        try:
            self.start()
        except (OSError, DaemonNotStarted):
            shutil.rmtree(self._folder, ignore_errors=True)
            raise

    @property
    def address(self) -> str:
        """"unix:PATH"."""
        return f"unix:{self._socket}"

    @property
    def pid(self) -> int:
        """Its process; 0: it does not run."""
        return 0 if self._process is None else self._process.pid

    def start(self) -> None:
        """Starts it (again), on the same socket."""
        with open(self._log, "ab") as log:
            self._process = subprocess.Popen(self._command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        give_up = time.monotonic() + _PATIENCE_S
        while not self._answers():
            if self._process.poll() is not None or time.monotonic() > give_up:
                raise DaemonNotStarted(f"{self._command[0]} does not answer; it said: {self._last_words()}")
            time.sleep(_POLL_S)

    def kill(self) -> None:
        """SIGKILL, at once; start() starts it again."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def close(self) -> None:
        """Ends it and removes its folder. It holds nothing that outlives it."""
        self.kill()
        shutil.rmtree(self._folder, ignore_errors=True)

    def __enter__(self) -> "PrivateDaemon":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _answers(self) -> bool:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
            return probe.connect_ex(self._socket) == 0

    def _last_words(self) -> str:
        with open(self._log, "rb") as log:
            return log.read()[-2000:].decode("utf-8", errors="replace").strip()
