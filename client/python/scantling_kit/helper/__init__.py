"""The helper process: gRPC on one side, frames on standard input and output on the other.

Run by the interpreter that has grpcio and protobuf (on Debian: /usr/bin/python3 with python3-grpcio and
python3-protobuf), never by a host's own. It keeps nothing: what a session is, what has been sent and what is
to be sent again is the kit's to know, so that this process may be killed at any time.

    framing     scantling_kit/framing.py: what a frame is
    messages    message classes at run time, from the build's descriptor set
    plain       plain values to messages and back
    streams     one AssembleShot stream
    status      how calls end, with their details
    unary       PlanShot on a saved shot
    __main__    reads frames, hands them out, writes frames

What may be asked ("do"), and what comes of it ("got"):

    hello    version                                -> hello version, grpc
    open     stream, address, first                 -> message ..., and once ended code, text, details
    send     stream, message
    finish   stream                                    (half-closes once all is sent)
    cancel   stream
    plan     call, address, shot_file, options      -> answer call, plan  |  failed call, code, text, details
"""
