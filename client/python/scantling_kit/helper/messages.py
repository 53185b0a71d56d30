"""Message classes made at run time from the descriptor set that the build writes (target scantling_python).

A pool of its own: whatever versions of google.rpc or of this API another package of the same interpreter has
loaded, they do not meet. Works with every protobuf runtime, for no generated code is involved.
"""

import os
from typing import Any, Dict, Type

from google.protobuf import descriptor_pb2, descriptor_pool, message_factory
from google.protobuf.message import Message

DESCRIPTOR_FILE = "scantling.desc"
ENVIRONMENT = "SCANTLING_MESSAGES"
PACKAGE = "scantling.v1"


class Messages:
    """Classes by full name: ``messages["scantling.v1.Shot"]``, or ``messages.Shot`` for those of the
    package."""

    def __init__(self, path: str) -> None:
        files = descriptor_pb2.FileDescriptorSet()
        with open(path, "rb") as stream:
            files.ParseFromString(stream.read())
        self._pool = descriptor_pool.DescriptorPool()
        for file in files.file:
            self._pool.Add(file) if hasattr(self._pool, "Add") else self._pool.AddSerializedFile(
                file.SerializeToString())
        self._classes: Dict[str, Type[Message]] = {}

    def __getitem__(self, full_name: str) -> Type[Any]:
        found = self._classes.get(full_name)
        if found is None:
            descriptor = self._pool.FindMessageTypeByName(full_name)
            if hasattr(message_factory, "GetMessageClass"):
                found = message_factory.GetMessageClass(descriptor)
            else:
                found = message_factory.MessageFactory(self._pool).GetPrototype(descriptor)
            self._classes[full_name] = found
        return found

    def __getattr__(self, name: str) -> Type[Any]:
        if name.startswith("_"):
            raise AttributeError(name)
        return self[f"{PACKAGE}.{name}"]

    def pool(self) -> descriptor_pool.DescriptorPool:
        """For readers that must find the types inside an Any."""
        return self._pool


def find_descriptors() -> str:
    """Where the descriptor set stands: as the environment says, else beside the package. FileNotFoundError
    with what was looked for."""
    beside = os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(__file__))), DESCRIPTOR_FILE)
    path = os.environ.get(ENVIRONMENT) or beside
    if not os.path.isfile(path):
        raise FileNotFoundError(f"got no message descriptions at {path}; want those the build writes (target "
                                f"scantling_python), beside the package or named by {ENVIRONMENT}")
    return path
