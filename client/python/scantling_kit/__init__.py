"""scantling_kit: a plugin for any host that has Python, in one page.

What it does: reads a shot from the host, keeps a Scantling daemon told of every change, and hands back, on
the host's own thread, what becomes of every object: FULL_RIG, PROXY, COLOUR_PATCH or OMITTED, with reasons
and hours. This package is pure Python (3.9 or newer) and loads into a host's own interpreter; gRPC lives in a
helper process that the package starts with the interpreter that has it (on Debian /usr/bin/python3 with
python3-grpcio and python3-protobuf).

Getting it: build the target `scantling_python`; the folder `python` of the build tree then holds the package
with its message descriptions. Put that folder on the host's module path (or copy `scantling_kit` out of it).

Writing a plugin:

1.  Implement `Host` (host.py): conventions (metres per unit, up axis, matrix layout, first frame), header,
    cameras, object handles, one object by its handle, and `listen`, which remembers a listener.
    hosts/dict_host.py is the template.

2.  From the host's own change callbacks call the listener: `object_changed(handle)`,
    `object_removed(handle)`, `changed(Change.CAMERA, handle)`, `changed(Change.HEADER)` and so on. That makes
    a note and nothing else.

3.  Start it, and pump it from a timer or an idle callback of the host:

        from scantling_kit import Callbacks, LiveShot

        def show(update):
            for decision in update.changed:
                print(decision.name, decision.tier, decision.reason_text)

        live = LiveShot(MyHost(), "unix:/run/user/1000/scantlingd.sock", Callbacks(on_update=show))
        ...                       # every 20 to 50 ms, on the host's thread:
        live.pump()
        ...                       # when the shot is closed:
        live.close()

    A host with a "call this later on the main thread" needs no timer: give that function as
    LiveOptions.call_on_host_thread, and it is called when there is something to do.

What to rely on:

*   pump() returns after some milliseconds. It never waits for daemon or helper; reading the host is cut into
    slices.
*   Changes are merged: a thing dragged for a second is read and sent at most batches_per_second times.
*   A rename keeps an object's id: that is its first name, made unique. Decisions come with handle and present
    name.
*   A daemon or a helper that dies is come back to, after growing pauses; the session is resumed, or begun
    anew with the whole shot. What was known stays on show meanwhile; `live.connection` tells how things
    stand.
*   `update.state` is PROVISIONAL (a first look), SETTLED or FINAL. Only `live.publishable` plans may be
    published: final, and of everything the host has said.
*   A change the daemon refuses comes to on_refusal with all its faults, each with the handle it is about.
    What the refused change held besides is sent again without them. `live.diverged` lists what the daemon
    then has otherwise than the host; it goes along with the host's next change of any of it, or with
    `live.resync()`.
*   `live.what_if(...)` and `live.plan_file(...)` answer by futures that are done in a later pump;
    `live.set_baseline(...)` has updates tell the difference against a plan.
"""

from .convert import Converter, HostDataError
from .daemon import DaemonNotStarted, PrivateDaemon
from .host import (Axis, Box, Change, ChangeListener, Conventions, Crowd, Directive, Handle, Host, HostCamera,
                   HostObject, Mask, MatrixLayout, Options, Particulars, PointOfInterest, ShotHeader, Span)
from .live import Callbacks, LiveOptions, LiveShot
from .process import HelperOptions
from .results import (BaselineChange, CallFailed, Connection, Decision, Fault, PlanState, PlanUpdate,
                      Progress, QuickDecision, Refusal, SavedPlan, Status, Totals, WhatIfResult)

__all__ = [
    "Axis", "BaselineChange", "Box", "CallFailed", "Callbacks", "Change", "ChangeListener", "Connection",
    "Conventions", "Converter", "Crowd", "DaemonNotStarted", "Decision", "Directive", "Fault", "Handle",
    "HelperOptions", "Host", "HostCamera", "HostDataError", "HostObject", "LiveOptions", "LiveShot", "Mask",
    "MatrixLayout", "Options", "Particulars", "PlanState", "PlanUpdate", "PointOfInterest", "PrivateDaemon",
    "Progress", "QuickDecision", "Refusal", "SavedPlan", "ShotHeader", "Span", "Status", "Totals",
    "WhatIfResult",
]
