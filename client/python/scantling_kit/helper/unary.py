"""Plans a saved shot: reads the file, asks PlanShot, answers its plan."""

import threading
from typing import Any, Dict

import grpc
from google.protobuf import json_format
from google.protobuf.message import DecodeError

from .messages import Messages
from .plain import fill, to_plain
from .status import plain_end
from .streams import Write, open_channel

METHOD = "/scantling.v1.ShotPlanner/PlanShot"


def read_shot(messages: Messages, path: str) -> Any:
    """A Shot from its JSON or its binary form. OSError, or ValueError with what is wrong."""
    with open(path, "rb") as stream:
        data = stream.read()
    shot = messages.Shot()
    if data.lstrip()[:1] == b"{":
        try:
            json_format.Parse(data.decode("utf-8"), shot, descriptor_pool=messages.pool())
        except (UnicodeDecodeError, json_format.ParseError) as error:
            raise ValueError(f"{path}: got no shot in JSON: {error}") from error
        return shot
    try:
        shot.ParseFromString(data)
    except DecodeError as error:
        raise ValueError(f"{path}: got neither JSON nor a binary shot: {error}") from error
    return shot


def plan_file(frame: Dict[str, Any], messages: Messages, write: Write) -> None:
    """Answers a "plan" frame, on a thread of its own."""
    threading.Thread(target=_plan, args=(frame, messages, write), name="plan", daemon=True).start()


def _plan(frame: Dict[str, Any], messages: Messages, write: Write) -> None:
    call = frame["call"]
    try:
        request = messages.PlanShotRequest()
        request.shot.CopyFrom(read_shot(messages, frame["shot_file"]))
        fill(request.options, frame.get("options", {}), "options")
        with open_channel(frame["address"]) as channel:
            plan = channel.unary_unary(METHOD, request_serializer=messages.PlanShotRequest.SerializeToString,
                                       response_deserializer=messages.PlanShotResponse.FromString)
            answer = plan(request, timeout=frame.get("timeout_s"))
        write({"got": "answer", "call": call, "plan": to_plain(answer.plan)})
    except grpc.RpcError as error:
        end = plain_end(messages, error.code().name, error.details() or "", error.trailing_metadata())
        write({"got": "failed", "call": call, **end})
    except (OSError, ValueError) as error:
        write({"got": "failed", "call": call, "code": "INVALID_ARGUMENT", "text": str(error)})
