"""python3 -m scantling_kit.helper: reads frames from standard input until it ends, writes frames to standard
output.

Ends when the kit does: the end of standard input cancels what runs.
"""

import os
import sys
import threading
from typing import Any, Callable, Dict

from .. import framing


class Server:
    """Hands frames out to streams and calls. One reader, many writers."""

    def __init__(self) -> None:
        self._output = os.fdopen(os.dup(1), "wb")
        os.dup2(2, 1)  # what a library prints must not end up between frames
        self._lock = threading.Lock()
        self._streams: Dict[int, Any] = {}
        self._messages: Any = None

    def write(self, header: Dict[str, Any]) -> None:
        """Writes one frame. The kit gone: ends the process."""
        data = framing.encode(header)
        with self._lock:
            try:
                self._output.write(data)
                self._output.flush()
            except (OSError, ValueError):
                os._exit(0)

    def load(self) -> bool:
        """Loads gRPC and the messages; tells the kit where that fails."""
        try:
            import grpc

            from .messages import Messages, find_descriptors

            self._messages = Messages(find_descriptors())
        except (ImportError, OSError, TypeError, ValueError) as error:
            self.write({"got": "unfit", "version": framing.VERSION,
                        "text": f"{sys.executable}: {type(error).__name__}: {error}"})
            return False
        self.write({"got": "hello", "version": framing.VERSION, "grpc": grpc.__version__,
                    "python": sys.version.split()[0], "pid": os.getpid()})
        return True

    def serve(self) -> int:
        """Until standard input ends; the process's exit code."""
        if not self.load():
            return 1
        do: Dict[str, Callable[[Dict[str, Any]], None]] = {
            "open": self._open, "send": self._send, "finish": self._finish, "cancel": self._cancel,
            "plan": self._plan
        }
        while True:
            try:
                frame = framing.read(sys.stdin.buffer)
            except framing.FramingError as error:
                self.write({"got": "unfit", "version": framing.VERSION, "text": str(error)})
                return 1
            if frame is None:
                for stream in self._streams.values():
                    stream.leave()
                return 0
            if frame.get("do") == "hello":
                if frame.get("version") != framing.VERSION:
                    self.write({"got": "unfit", "version": framing.VERSION,
                                "text": f"got version {frame.get('version')!r}, want {framing.VERSION}"})
                    return 1
                continue
            try:
                do[frame["do"]](frame)
            except (KeyError, ValueError) as error:
                self.write({
                    "got": "malformed", "stream": frame.get("stream", 0), "call": frame.get("call", 0),
                    "text": f"{frame.get('do')!r}: {error}"
                })

    def _open(self, frame: Dict[str, Any]) -> None:
        from .streams import Stream

        number = frame["stream"]
        stream = Stream(number, frame["address"], self._messages, self.write)
        self._streams = {number: stream}  # the kit has one at a time; an older one is cancelled or has ended
        stream.send(frame["first"])

    def _send(self, frame: Dict[str, Any]) -> None:
        stream = self._streams.get(frame["stream"])
        if stream is not None:
            stream.send(frame["message"])

    def _finish(self, frame: Dict[str, Any]) -> None:
        stream = self._streams.get(frame["stream"])
        if stream is not None:
            stream.finish()

    def _cancel(self, frame: Dict[str, Any]) -> None:
        stream = self._streams.pop(frame["stream"], None)
        if stream is not None:
            stream.cancel()

    def _plan(self, frame: Dict[str, Any]) -> None:
        from .unary import plan_file

        plan_file(frame, self._messages, self.write)


if __name__ == "__main__":
    code = Server().serve()
    # Threads of gRPC may still run; nothing of them is wanted any more.
    sys.stdout.flush()
    os._exit(code)
