"""One AssembleShot stream: frames of the kit in, messages of the daemon out.

Two threads of gRPC's and one of ours: gRPC's takes requests from a queue, ours reads answers and writes
frames. The queue is as long as what the kit sends ahead, and the kit sends no further edit while several are
unanswered.
"""

import queue
import threading
from typing import Any, Callable, Dict, Iterator, List, Optional

import grpc

from .messages import Messages
from .plain import fill, folded, to_plain
from .status import plain_end, plain_status

METHOD = "/scantling.v1.ShotPlanner/AssembleShot"
_CHANNEL_OPTIONS = (("grpc.enable_http_proxy", 0), ("grpc.max_receive_message_length", -1),
                    ("grpc.max_send_message_length", -1))
_MOST_DECISIONS = 100  # a frame: some 100 KB, about a millisecond to read
_LEAVE_PATIENCE_S = 1.5
_STATUS_FIELDS = (("update", "problem"), ("refusal", "status"), ("what_if", "problem"))

Write = Callable[[Dict[str, Any]], None]


def open_channel(address: str) -> grpc.Channel:
    """A channel without limits of its own: the daemon has them."""
    return grpc.insecure_channel(address, options=_CHANNEL_OPTIONS)


class Stream:
    """Begins with its first message; ends by itself, telling how."""

    def __init__(self, number: int, address: str, messages: Messages, write: Write) -> None:
        self._number = number
        self._messages = messages
        self._write = write
        self._requests: "queue.SimpleQueue[Optional[Any]]" = queue.SimpleQueue()
        self._parts: List[Any] = []                     # of the edit whose last part has not come yet
        self._faulty: Optional[Dict[str, Any]] = None   # its refusal
        self._told_end = False
        self._finished = False
        self._channel = open_channel(address)
        method = self._channel.stream_stream(
            METHOD,
            request_serializer=messages.AssembleShotRequest.SerializeToString,
            response_deserializer=messages.AssembleShotResponse.FromString)
        self._call = method(self._outgoing())
        self._reader = threading.Thread(target=self._read, name=f"stream {number}", daemon=True)
        self._reader.start()

    def send(self, plain: Dict[str, Any]) -> None:
        """Queues one request; an edit's parts once its last is there. What is no request is answered as the
        daemon refuses: an edit's number is used up by an empty one in its place, so that those behind it keep
        theirs."""
        request = self._messages.AssembleShotRequest()
        try:
            fill(request, plain)
        except ValueError as error:
            self._refuse(plain, str(error))
            return
        if "edit" not in plain:
            self._requests.put(request)
            return
        self._parts.append(request)
        if not request.edit.continues:
            self._end_edit(request.edit.revision)

    def _refuse(self, plain: Dict[str, Any], text: str) -> None:
        part = next(iter(plain), "")
        if part in ("begin", "resume"):
            self._write({"got": "ended", "stream": self._number, "code": "INVALID_ARGUMENT", "text": text})
            self._told_end = True
            self.cancel()
            return
        path, _, what = text.partition(": ")
        field = path[len(part) + 1:]
        if part == "edit" and field.startswith("objects["):
            index, _, rest = field[len("objects["):].partition("]")
            field = f"objects[{int(index) + sum(len(p.edit.objects) for p in self._parts)}]{rest}"
        refusal: Dict[str, Any] = {
            "status": {
                "code": "INVALID_ARGUMENT", "text": text, "reason": "EDIT_INVALID",
                "faults": [{"field": field, "description": what}]
            }
        }
        if part == "edit":
            refusal["revision"] = plain["edit"]["revision"]
            self._faulty = refusal
            if not plain["edit"].get("continues"):
                self._end_edit(refusal["revision"])
            return
        refusal.update({"what_if_id": plain[part]["what_if_id"]} if part == "what_if" else {"baseline": True})
        self._write({"got": "message", "stream": self._number, "message": {"refusal": refusal}})

    def _end_edit(self, revision: int) -> None:
        parts, self._parts = self._parts, []
        refusal, self._faulty = self._faulty, None
        if refusal is None:
            for part in parts:
                self._requests.put(part)
            return
        # In this order: what the daemon answers to the empty edit must not reach the kit before the refusal.
        self._write({"got": "message", "stream": self._number, "message": {"refusal": refusal}})
        self._requests.put(self._messages.AssembleShotRequest(edit={"revision": revision}))

    def finish(self) -> None:
        """Half-closes after everything queued."""
        self._finished = True
        self._requests.put(None)

    def leave(self) -> None:
        """The kit is gone: lets a finished stream end, so that its last words arrive; cancels any other."""
        if self._finished:
            self._reader.join(_LEAVE_PATIENCE_S)
        self._call.cancel()

    def cancel(self) -> None:
        """Ends the stream at once; the session lives on."""
        self._call.cancel()
        self._requests.put(None)

    def _outgoing(self) -> Iterator[Any]:
        while True:
            request = self._requests.get()
            if request is None:
                return
            yield request

    def _read(self) -> None:
        try:
            for answer in self._call:
                for message in _pieces(self._plain(answer)):
                    self._write({"got": "message", "stream": self._number, "message": message})
            end: Dict[str, Any] = {"code": "OK", "text": ""}
        except grpc.RpcError as error:
            code, text = error.code().name, error.details() or ""
            end = plain_end(self._messages, code, text, error.trailing_metadata())
        self._requests.put(None)
        self._channel.close()
        if not self._told_end:
            self._write({"got": "ended", "stream": self._number, **end})

    def _plain(self, answer: Any) -> Dict[str, Any]:
        plain = to_plain(answer)
        for part in ("update", "what_if"):
            if "decisions" in plain.get(part, ()):
                plain[part]["decisions"] = [folded(decision) for decision in plain[part]["decisions"]]
        for part, field in _STATUS_FIELDS:
            if field in plain.get(part, ()):
                plain[part][field] = plain_status(self._messages, getattr(getattr(answer, part), field))
        # A part without set fields is told all the same.
        chosen = answer.WhichOneof("part")
        if chosen is not None:
            plain.setdefault(chosen, {})
        return plain


def _pieces(message: Dict[str, Any]) -> Iterator[Dict[str, Any]]:
    """A large update as several that continue one another: while a frame's JSON is read, the host's
    interpreter does nothing else."""
    update = message.get("update")
    decisions = () if update is None else update.get("decisions", ())
    if update is None or len(decisions) <= _MOST_DECISIONS:
        yield message
        return
    head = {
        name: update[name] for name in ("number", "revision", "state", "anew", "gone_ids") if name in update
    }
    last = (len(decisions) - 1) // _MOST_DECISIONS * _MOST_DECISIONS
    for first in range(0, last, _MOST_DECISIONS):
        yield {"update": dict(head, continues=True, decisions=decisions[first:first + _MOST_DECISIONS])}
        head.pop("gone_ids", None)
    rest = {name: value for name, value in update.items() if name != "gone_ids"}
    yield {"update": dict(rest, decisions=decisions[last:])}
