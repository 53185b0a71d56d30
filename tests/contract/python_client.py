"""Plans a shot with grpcio, traces its frontier and reads refusals' details. Usage: python_client.py ADDRESS"""

import sys

import grpc
from google.rpc import error_details_pb2, status_pb2
from scantling.v1 import scene_pb2, shot_planner_pb2


def stage():
    shot = scene_pb2.Shot(shot_id="qy_010", style="ink")
    shot.frames.first, shot.frames.last = 1001, 1012
    shot.rate.numerator, shot.rate.denominator = 24, 1
    camera = shot.cameras.add(id="main", window_width=36, window_height=15, focal_mm=[35])
    camera.image_width_px, camera.image_height_px, camera.near_m = 2048, 853, 0.1
    camera.transform.matrices.extend([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 1.6, 0, 1])
    return shot


def add(shot, name, class_name, z):
    thing = shot.objects.add(id=name, class_name=class_name)
    thing.box.min_m.x, thing.box.min_m.z = -0.25, -0.25
    thing.box.max_m.x, thing.box.max_m.y, thing.box.max_m.z = 0.25, 1.75, 0.25
    thing.transform.matrices.extend([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, z, 1])


def details(error):
    """The ErrorInfo, the field violations and the failed preconditions in an error's trailer."""
    trailer = {key: value for key, value in error.trailing_metadata()}
    status = status_pb2.Status.FromString(trailer["grpc-status-details-bin"])
    info, faults = error_details_pb2.ErrorInfo(), error_details_pb2.BadRequest()
    failure = error_details_pb2.PreconditionFailure()
    for detail in status.details:
        for message in (info, faults, failure):
            detail.Unpack(message)
    return info, {fault.field: fault.description for fault in faults.field_violations}, failure


def check_frontier(channel, shot):
    trace = channel.unary_stream("/scantling.v1.ShotPlanner/TraceFrontier",
                                 request_serializer=shot_planner_pb2.TraceFrontierRequest.SerializeToString,
                                 response_deserializer=shot_planner_pb2.TraceFrontierResponse.FromString)
    request = shot_planner_pb2.TraceFrontierRequest(shot=shot, points=5, along="CORE_HOURS")
    parts = [part for part in trace(request, timeout=30) if part.WhichOneof("part") != "progress"]
    assert [part.WhichOneof("part") for part in parts] == ["point"] * 5 + ["summary"], parts
    points = [part.point for part in parts[:5]]
    assert [point.index for point in points] == [0, 1, 2, 3, 4], points
    assert all(point.HasField("core_hours") and not point.HasField("anim_hours") for point in points), points
    assert all(a.core_hours > b.core_hours for a, b in zip(points, points[1:])), points
    # What fits the tighter budget fits the looser one: its bound is no higher than any tighter plan's loss.
    assert all(a.loss_bound <= b.loss for i, a in enumerate(points) for b in points[i:]), points
    assert parts[5].summary.points == 5, parts[5]
    assert parts[5].summary.nothing_lost_core_hours == points[0].core_hours, parts[5]


def check_what_stands_in_the_way(plan, shot):
    ruled = scene_pb2.Shot()
    ruled.CopyFrom(shot)
    ruled.directives.add(object_id="porter", bound="EXACTLY", tier="FULL_RIG")
    request = shot_planner_pb2.PlanShotRequest(shot=ruled)
    request.options.anim_hours = 0
    try:
        plan(request, timeout=30)
    except grpc.RpcError as error:
        assert error.code() == grpc.StatusCode.FAILED_PRECONDITION, error
        info, _, failure = details(error)
        assert info.reason == "NO_PLAN_FITS", info
        assert int(info.metadata["in_the_way"]) == len(failure.violations) >= 1, error
        assert failure.violations[0].subject in error.details(), error
    else:
        raise AssertionError("a full rig was planned for nothing")


def main():
    channel = grpc.insecure_channel(sys.argv[1], options=[("grpc.enable_http_proxy", 0)])
    plan = channel.unary_unary("/scantling.v1.ShotPlanner/PlanShot",
                               request_serializer=shot_planner_pb2.PlanShotRequest.SerializeToString,
                               response_deserializer=shot_planner_pb2.PlanShotResponse.FromString)
    shot = stage()
    add(shot, "lamplighter", "lead", -5)
    add(shot, "porter", "person", -12)
    answer = plan(shot_planner_pb2.PlanShotRequest(shot=shot), timeout=30)
    assert [d.object_id for d in answer.plan.decisions] == ["lamplighter", "porter"], answer
    assert answer.plan.decisions[0].tier == scene_pb2.FULL_RIG, answer
    check_frontier(channel, shot)
    check_what_stands_in_the_way(plan, shot)

    add(shot, "porter", "no_such_class", -12)
    try:
        plan(shot_planner_pb2.PlanShotRequest(shot=shot), timeout=30)
    except grpc.RpcError as error:
        assert error.code() == grpc.StatusCode.INVALID_ARGUMENT, error
        info, faults, _ = details(error)
        assert (info.reason, info.domain) == ("SHOT_INVALID", "scantling.v1"), info
        assert any("objects[2].id" in field for field in faults), faults
        assert any("objects[2].class_name" in field for field in faults), faults
        assert all("got" in text and "want" in text for text in faults.values()), faults
    else:
        raise AssertionError("a faulty shot was planned")


if __name__ == "__main__":
    main()
