"""The Python kit with the real daemon: what it has gathered when a plan is final is what PlanShot answers,
whatever happened on the way. Run with SCANTLINGD_PROGRAM and SCANTLING_CONFIG in the environment."""

import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
import unittest

import grpc
from fake_daemon import MESSAGES
from google.protobuf import json_format
from scantling_kit import (Axis, Box, Callbacks, CallFailed, Connection, Converter, HelperOptions, HostObject,
                           LiveOptions, LiveShot, MatrixLayout, PrivateDaemon)
from scantling_kit.helper.plain import fill, to_plain
from scantling_kit.hosts.dict_host import DictHost
from scantling_kit.hosts.gltf_host import GltfHost, Replay
from scantling_kit.host import ShotHeader
from scenes import at, person, pump_until, stage

PLAN = "/scantling.v1.ShotPlanner/PlanShot"


def shot_of(live, host):
    """The whole shot as a Shot, with the ids under which the kit has sent its objects."""
    convert = Converter(host.conventions(), lambda handle, where: live.id_of(handle))
    header = host.header()
    shot = MESSAGES.Shot()
    cameras = [convert.camera(camera, camera.name, header.frame_count) for camera in host.cameras()]
    fill(shot, convert.header(header, cameras, [convert.directive(ruling) for ruling in host.directives()]))
    for handle in host.object_handles():
        fill(shot.objects.add(), convert.object(host.read_object(handle), header.frame_count))
    return shot, convert.options(host.options())


class RealDaemon(unittest.TestCase):

    def setUp(self):
        self.daemon = PrivateDaemon(os.environ["SCANTLINGD_PROGRAM"], os.environ["SCANTLING_CONFIG"])
        self.addCleanup(self.daemon.close)
        self.updates, self.refusals, self.connections = [], [], []

    def start(self, host, **options):
        self.host = DictHost(host) if isinstance(host, dict) else host
        callbacks = Callbacks(self.updates.append, self.refusals.append,
                              lambda state, text: self.connections.append((state, text)))
        self.live = LiveShot(self.host, self.daemon.address, callbacks, LiveOptions(**options),
                             HelperOptions())
        self.addCleanup(lambda: self.live.close(wait_s=10.0))

    def until(self, condition, what):
        pump_until(self.live, condition, what)

    def until_final(self):
        self.until(lambda: self.live.publishable, "a plan that may be published")

    def plan_shot(self, shot=None, options=None):
        """PlanShot's plan of the host's shot as it is, by a client of its own."""
        if shot is None:
            shot, options = shot_of(self.live, self.host)
        request = MESSAGES.PlanShotRequest(shot=shot)
        fill(request.options, options or {})
        with grpc.insecure_channel(self.daemon.address, options=[("grpc.enable_http_proxy", 0)]) as channel:
            plan = channel.unary_unary(PLAN, request_serializer=MESSAGES.PlanShotRequest.SerializeToString,
                                       response_deserializer=MESSAGES.PlanShotResponse.FromString)
            return to_plain(plan(request, timeout=60).plan)

    def assert_as_planned_at_once(self):
        self.until_final()
        plan = self.plan_shot()
        gathered = {decision.object_id: decision.fields for decision in self.live.decisions.values()}
        wanted = {fields["object_id"]: fields for fields in plan["decisions"]}
        self.assertEqual(gathered.keys(), wanted.keys())
        for object_id, fields in wanted.items():
            self.assertEqual(gathered[object_id], fields)
        self.assertEqual(self.live.totals.fields, plan["totals"])


def walk(rng, frames):
    """A track of a straight walk on the ground."""
    x, z, dx, dz = rng.uniform(-20, 20), rng.uniform(-150, 5), rng.uniform(-0.1, 0.1), rng.uniform(-0.1, 0.1)
    return [at(x + dx * frame, 0, z + dz * frame) for frame in range(frames)]


def crowd(rng, count, frames=12):
    """People on a quay, half of them walking, and a ferry that some of them are aboard."""
    objects = {"ferry": dict(person(-60, "ferry", class_name="ferry"), box=((-4, 0, -10), (4, 6, 10)))}
    for index in range(count):
        track = walk(rng, frames if index % 2 else 1)
        objects[index] = dict(person(-5, f"walker {index}"), transforms=track, asset=f"walker_{index % 5}")
        if index % 7 == 0:
            objects[index]["container"] = "ferry"
            objects[index]["class_name"] = "passenger"
    scene = stage()
    scene["objects"] = objects
    return scene


class RandomArtist:
    """Edits a DictHost at random, always to a shot the daemon can take."""

    def __init__(self, host, rng, frames=12):
        self._host, self._rng, self._frames = host, rng, frames
        self._next = 1000

    def act(self):
        rng, host = self._rng, self._host
        people = [handle for handle in host.object_handles() if handle != "ferry"]
        kind = rng.randrange(9)
        if kind == 0:
            self._next += 1
            host.set_object(self._next, **dict(person(-5, rng.choice(["walker 1", "guest"])),
                                               transforms=walk(rng, rng.choice([1, self._frames]))))
        elif kind == 1 and len(people) > 5:
            host.remove_object(rng.choice(people))
        elif kind == 2:
            host.set_object(rng.choice(people), name=f"renamed {rng.randrange(9)}")
        elif kind == 3:
            host.set_object(rng.choice(people), class_name=rng.choice(["person", "lead", "dog", "reaper"]))
        elif kind == 4:
            host.set_object(rng.choice(people), container=rng.choice(["ferry", None]))
        elif kind == 5:
            host.set_camera("cam", transforms=[at(rng.uniform(-9, 9), 1.6, rng.uniform(-50, 5))])
        elif kind == 6:
            host.set_shot(
                options=rng.choice([{}, {"anim_hours": 400.0}, {"anim_hours": 250.0, "core_hours": 400.0}]))
        elif kind == 7:
            host.set_shot(directives=[{
                "handle": rng.choice(people), "bound": "AT_LEAST", "tier": "PROXY", "who": "h", "why": "w"
            }] if rng.random() < 0.5 else [])
        else:
            self.move()

    def move(self):
        """Three people stand or walk elsewhere."""
        people = [handle for handle in self._host.object_handles() if handle != "ferry"]
        for handle in self._rng.sample(people, 3):
            self._host.set_object(handle, transforms=walk(self._rng, self._rng.choice([1, self._frames])))


class Agreeing(RealDaemon):

    def edit_at_random(self, seed, rounds, between=lambda round_: None):
        rng = random.Random(seed)
        self.start(crowd(rng, 40))
        self.assert_as_planned_at_once()
        artist = RandomArtist(self.host, rng)
        for round_ in range(rounds):
            for _ in range(rng.randrange(1, 8)):
                artist.act()
                if rng.random() < 0.5:
                    self.live.pump()
            # A ruling on somebody who was removed is refused, rightly; this artist takes it back.
            handles = set(self.host.object_handles())
            if any(ruling.handle not in handles for ruling in self.host.directives()):
                self.host.set_shot(directives=[])
            between(round_)
            if round_ % 3 == 2:
                self.settle()

    def settle(self):
        """Where a refusal left something behind, everything is sent again; then the plan must agree."""
        self.until(lambda: self.live.publishable or self.live.anything_diverged or self.problem(),
                   "an answer")
        if self.live.anything_diverged:
            self.live.resync()
        if self.problem():
            self.host.set_shot(options={})
        self.assert_as_planned_at_once()

    def problem(self):
        return bool(self.updates) and self.updates[-1].problem is not None

    def test_after_any_edits_the_final_plan_is_the_one_planned_at_once(self):
        self.edit_at_random(1, 18)

    def test_the_same_with_daemons_killed_and_started_again(self):
        def strike(round_):
            if round_ % 3 == 1:
                self.live.pump()
                self.daemon.kill()
                self.live.pump()
                self.daemon.start()

        self.edit_at_random(2, 9, strike)
        self.assertGreaterEqual([state for state, _ in self.connections].count(Connection.LOST), 3)

    def test_the_same_with_helpers_killed(self):
        sessions = set()

        def strike(round_):
            self.until(lambda: self.live.helper_pid != 0, "a helper")
            self.live.pump()
            os.kill(self.live.helper_pid, signal.SIGKILL)
            self.live.pump()
            sessions.add(self.live._worker._session.session_id)

        self.edit_at_random(3, 9, strike)
        self.assertEqual(len(sessions), 1)  # resumed every time

    def test_what_was_refused_comes_right_with_its_next_change(self):
        rng = random.Random(13)
        self.start(crowd(rng, 30), batches_per_second=1000.0)
        self.until_final()
        artist = RandomArtist(self.host, rng)
        faults = [{"class_name": "no_such_class"}, {"box": ((0, 0, 0), (-1, 1, 1))}, {"importance": "very"},
                  {"transforms": [at(0, float("nan"), 0)]}, {"transforms": [at(0, 0, -5)] * 3},
                  {"container": "nobody"}]
        mended = {"class_name": "dog", "box": ((-1, 0, -1), (1, 1, 1)), "importance": 1.0, "container": None,
                  "transforms": [at(0, 0, -5)]}
        for _ in range(8):
            spoilt = set()
            for _ in range(6):
                artist.move()
                people = [handle for handle in self.host.object_handles() if handle != "ferry"]
                spoilt.add(rng.choice(people))
                self.host.set_object(rng.choice(sorted(spoilt)), **rng.choice(faults))
                for _ in range(rng.randrange(20)):
                    self.live.pump()
                    time.sleep(0.001)
            for handle in spoilt:
                self.host.set_object(handle, **mended)
            self.assert_as_planned_at_once()  # without resync()
        self.assertGreater(len(self.refusals), 8)
        self.assertEqual({refusal.what for refusal in self.refusals}, {"edit", "host"})

    def test_centimetres_rows_and_z_up_plan_as_metres_columns_and_y_up(self):
        rng = random.Random(4)
        metres = crowd(rng, 20)
        self.start(metres)
        self.until_final()
        wanted = {decision.object_id: decision.tier for decision in self.live.decisions.values()}
        hours = self.live.totals.anim_hours
        self.live.close(wait_s=10.0)
        self.start(in_centimetres(metres))
        self.until_final()
        self.assertEqual({decision.object_id: decision.tier for decision in self.live.decisions.values()},
                         wanted)
        # The numbers differ by the rounding of centimetres; hours are sums over whole frames and holds.
        self.assertAlmostEqual(self.live.totals.anim_hours, hours, delta=1e-6 * hours)

    def test_many_objects_go_in_parts(self):
        rng = random.Random(5)
        self.start(crowd(rng, 5000))
        self.assert_as_planned_at_once()

    def test_a_script_over_a_gltf_file(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "quay.gltf")
            with open(path, "w", encoding="utf-8") as stream:
                json.dump(small_gltf(), stream)
            host = GltfHost(path, ShotHeader("qy_010", 6))
        self.start(host)
        self.assert_as_planned_at_once()
        replay = Replay(host, [{"at_s": 0.1, "track": "main", "from": [0, 1.6, 0], "to": [0, 1.6, -20]}, {
            "at_s": 0.2, "add": "porter 2", "like": "porter", "by": [2, 0, 0]
        }, {"at_s": 0.3, "rename": "porter", "to": "head porter"}, {"at_s": 0.4, "remove": "stall"},
                               {"at_s": 0.5, "set": "porter 2", "class_name": "dog"}])
        for tick in range(6):
            replay.until(tick / 10)
            self.live.pump()
        self.assert_as_planned_at_once()
        self.assertEqual({decision.name: decision.object_id for decision in self.live.decisions.values()},
                         {"head porter": "porter", "porter 2": "porter 2"})


def in_centimetres(scene):
    """The same scene as a host says it that has centimetres, rows and Z up: (x, y, z) m is (100 x, -100 z,
    100 y) cm."""
    def turned(matrix):
        x, y, z = matrix[12:15]
        return [1, 0, 0, 100 * x, 0, 1, 0, -100 * z, 0, 0, 1, 100 * y, 0, 0, 0, 1]

    def looking_ahead(matrix):
        x, y, z = matrix[12:15]
        return [1, 0, 0, 100 * x, 0, 0, -1, -100 * z, 0, 1, 0, 100 * y, 0, 0, 0, 1]

    objects = {}
    for handle, fields in scene["objects"].items():
        (x0, y0, z0), (x1, y1, z1) = fields["box"]
        objects[handle] = dict(fields, transforms=[turned(matrix) for matrix in fields["transforms"]],
                               box=((100 * x0, -100 * z1, 100 * y0), (100 * x1, -100 * z0, 100 * y1)))
    camera = dict(scene["cameras"]["cam"], near=10)
    camera["transforms"] = [looking_ahead(matrix) for matrix in camera["transforms"]]
    return dict(scene, objects=objects, cameras={"cam": camera}, metres_per_unit=0.01, up_axis=Axis.Z.value,
                matrix_layout=MatrixLayout.ROW_MAJOR.value)


def small_gltf():
    """A porter, a stall and a camera at eye height."""
    accessor = {
        "componentType": 5126, "type": "VEC3", "count": 2, "min": [-0.25, 0, -0.25],
        "max": [0.25, 1.75, 0.25]
    }
    return {
        "asset": {"version": "2.0"}, "scenes": [{"nodes": [0, 1, 2]}], "accessors": [accessor],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "nodes": [{"name": "porter", "mesh": 0, "translation": [0, 0, -30], "extras": {"class": "person"}},
                  {"name": "stall", "mesh": 0, "translation": [1, 0, -9],
                   "extras": {"class": "stall"}}, {"name": "main", "camera": 0, "translation": [0, 1.6, 0]}],
        "cameras": [{"type": "perspective", "perspective": {"yfov": 0.4, "aspectRatio": 2.4, "znear": 0.1}}]
    }


class Asking(RealDaemon):

    def test_a_what_if_is_what_planning_that_shot_gives_and_changes_nothing(self):
        self.start(crowd(random.Random(6), 30))
        self.until_final()
        before = {handle: decision.fields for handle, decision in self.live.decisions.items()}
        changed = HostObject(
            **{**vars(self.host.read_object(1)), "transforms": [at(0, 0, -4)], "class_name": "lead"})
        future = self.live.what_if(objects=[changed], removed=[2])
        self.until(future.done, "the what-if")
        result = future.result()
        shot, options = shot_of(self.live, self.host)
        kept = [thing for thing in shot.objects if thing.id not in ("walker 1", "walker 2")]
        del shot.objects[:]
        shot.objects.extend(kept)
        convert = Converter(self.host.conventions(), lambda handle, where: self.live.id_of(handle))
        fill(shot.objects.add(), convert.object(changed, 12))
        plan = self.plan_shot(shot, options)
        planned = {fields["object_id"]: fields for fields in plan["decisions"]}
        after = {fields["object_id"]: fields for fields in before.values()}
        del after["walker 2"]
        after.update((decision.object_id, decision.fields) for decision in result.decisions)
        self.assertEqual(after, planned)
        self.assertEqual((result.gone, result.totals.fields), ((2,), plan["totals"]))
        self.until_final()
        self.assertEqual({handle: decision.fields for handle, decision in self.live.decisions.items()},
                         before)

    def test_a_faulty_what_if_tells_its_faults(self):
        self.start(crowd(random.Random(6), 3))
        self.until_final()
        future = self.live.what_if(
            objects=[HostObject("new", "new", "no_such_class", Box((0, 0, 0), (1, 1, 1)), [at(0, 0, -9)])])
        self.until(future.done, "the what-if")
        self.assertIsInstance(future.exception(), CallFailed)
        self.assertEqual([fault.field for fault in future.exception().status.faults],
                         ["objects[0].class_name"])

    def test_totals_are_told_against_a_saved_shot(self):
        self.start(crowd(random.Random(7), 20))
        self.until_final()
        shot, _ = shot_of(self.live, self.host)
        self.host.set_shot(options={"anim_hours": 60.0})
        self.until_final()
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "monday.json")
            with open(path, "w", encoding="utf-8") as stream:
                stream.write(json_format.MessageToJson(shot, preserving_proto_field_name=True))
            future = self.live.set_baseline_from_file("monday", path)
            self.until(lambda: bool(self.updates) and self.updates[-1].baseline is not None, "a baseline")
        self.assertEqual(future.result().totals.fields, self.plan_shot(shot, {})["totals"])
        change = self.updates[-1].baseline
        self.assertEqual(change.label, "monday")
        self.assertEqual(change.anim_hours, self.live.totals.anim_hours - future.result().totals.anim_hours)
        self.assertLess(change.anim_hours, 0)
        # A daemon started anew is told of it again.
        del self.updates[:]
        self.daemon.kill()
        self.daemon.start()
        self.until(lambda: any(update.anew and update.baseline for update in self.updates),
                   "the baseline in a new session")
        self.assertEqual(self.updates[-1].baseline.label, "monday")


class Refusing(RealDaemon):

    def test_each_fault_is_told_with_its_handle_and_the_rest_goes_on(self):
        self.start(crowd(random.Random(8), 12))
        self.until_final()
        self.host.set_object(1, class_name="no_such_class")
        self.host.set_object(2, box=((0, 0, 0), (-1, 1, 1)))
        self.host.set_object(3, name="mover", transforms=[at(0, 0, -3)])
        self.until(lambda: self.live.diverged and self.live.decisions[3].fields.get("near_m", 99) < 3,
                   "the innocent one's answer")
        self.assertEqual(set(self.live.diverged), {1, 2})
        handles = {fault.handle for refusal in self.refusals for fault in refusal.status.faults}
        self.assertEqual(handles, {1, 2})
        self.assertTrue(all("got" in fault.description and "want" in fault.description
                            for refusal in self.refusals for fault in refusal.status.faults))
        self.host.set_object(1, class_name="dog")
        self.host.set_object(2, box=((0, 0, 0), (1, 1, 1)))
        self.assert_as_planned_at_once()

    def test_a_camera_that_is_refused_and_one_that_is_not(self):
        scene = crowd(random.Random(9), 5)
        scene["cameras"]["cam2"] = dict(scene["cameras"]["cam"], name="witness")
        self.start(scene)
        self.until_final()
        self.host.set_camera("cam", transforms=[at(0, 1.6, -2)])
        self.host.set_camera("cam2", near=-1.0)
        self.until(lambda: bool(self.refusals), "the refusal")
        self.assertEqual((self.refusals[0].handles, self.refusals[0].status.faults[0].handle),
                         (("cam2",), "cam2"))
        self.host.set_camera("cam2", near=0.5)
        self.assert_as_planned_at_once()
        self.assertEqual(len(self.refusals), 1)

    def test_an_object_that_a_ruling_names_cannot_be_removed(self):
        scene = crowd(random.Random(10), 5)
        scene["directives"] = [{"handle": 1, "bound": "EXACTLY", "tier": "PROXY", "who": "h", "why": "w"}]
        self.start(scene)
        self.until_final()
        self.host.remove_object(1)
        self.host.set_object(2, transforms=[at(0, 0, -4)])
        self.until(lambda: bool(self.refusals), "the refusal")
        self.assertEqual(self.live.diverged, (1,))
        self.host.set_shot(directives=[])  # with the ruling the object goes
        self.assert_as_planned_at_once()
        self.assertEqual(len(self.refusals), 1)

    def test_a_style_that_is_none_is_refused_at_the_beginning_and_mended(self):
        self.start(dict(crowd(random.Random(11), 5), style="no_such_style"))
        self.until(lambda: self.live.connection is Connection.FAULTY and self.refusals, "the refusal")
        self.assertEqual((self.refusals[0].what, self.refusals[0].status.reason), ("shot", "STYLE_UNKNOWN"))
        self.host.set_shot(style="lensed")
        self.assert_as_planned_at_once()

    def test_a_budget_that_nothing_fits_is_a_problem_and_no_plan_to_publish(self):
        self.start(crowd(random.Random(12), 8))
        self.until_final()
        known = dict(self.live.decisions)
        lead = [handle for handle in self.host.object_handles() if handle != "ferry"][0]
        self.host.set_shot(
            options={"anim_hours": 0.0},
            directives=[{"handle": lead, "bound": "EXACTLY", "tier": "FULL_RIG", "who": "h", "why": "w"}])
        self.host.set_object(lead, container=None, transforms=[at(0, 0, -5)])
        self.until(lambda: self.updates[-1].problem is not None, "the problem")
        self.assertEqual(self.updates[-1].problem.reason, "NO_PLAN_FITS")
        self.assertFalse(self.live.publishable)
        self.assertEqual(self.live.decisions, known)
        self.host.set_shot(options={})
        self.assert_as_planned_at_once()


class Example(RealDaemon):

    def test_it_prints_decisions_as_the_camera_moves(self):
        ran = subprocess.run(
            [sys.executable, os.environ["SCANTLING_EXAMPLE"], "--address", self.daemon.address],
            capture_output=True, text=True, timeout=120, check=False)
        self.assertEqual(ran.returncode, 0, ran.stdout + ran.stderr)
        self.assertRegex(ran.stdout, r"lamplighter +FULL_RIG +-> OMITTED")
        self.assertRegex(ran.stdout, r"against 'before the move'")
        self.assertRegex(ran.stdout, r"\d decisions would change: lamplighter")


if __name__ == "__main__":
    unittest.main()
