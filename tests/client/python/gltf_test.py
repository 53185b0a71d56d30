"""The glTF host: what it reads, by hand and against `scantling import`; what its script does."""

import base64
import json
import math
import os
import struct
import subprocess
import tempfile
import unittest

from kit_case import KitCase
from scantling_kit import Conventions, Converter, ShotHeader
from scantling_kit.hosts.gltf_file import GltfError
from scantling_kit.hosts.gltf_host import GltfHost, Replay, ScriptError
from scenes import at

# Two corners of a box 1 x 2 x 3, as floats.
CORNERS = struct.pack("<6f", -0.5, 0, -1.5, 0.5, 2, 1.5)


def document(**changes):
    """A quay with a porter, a ferry with a passenger, a card without numbers of its own, and two cameras."""
    fields = {
        "asset": {"version": "2.0"}, "scene":
            0, "scenes": [{"nodes": [0, 4, 7]}],
        "nodes": [{
            "name": "quay", "children": [1, 2, 3], "translation": [10, 0, 0], "extras": {"class": "person"}
        }, {"name": "porter", "mesh": 0, "translation": [0, 0, -5]}, {
            "name": "porter", "mesh": 0, "scale": [2, 2, 2],
            "rotation": [0, 0.7071067811865476, 0, 0.7071067811865476],
            "extras": {"scantling_class": "lead", "class": "prop", "importance": 10, "hold_group": "pair"}
        }, {"mesh": 1, "extras": {"importance": -1, "asset": 7}}, {
            "name": "ferry", "mesh": 2, "children": [5, 6],
            "matrix": [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 1, 2, 3, 1]
        }, {"name": "main", "camera": 0, "translation": [0, 1.6, 0]},
                  {"name": "flat", "mesh": 0, "scale": [0, 1, 1]}, {"name": "plan", "camera": 1}],
        "meshes": [{"name": "porter_a", "primitives": [{"attributes": {"POSITION": 0}}]},
                   {"primitives": [{"attributes": {"POSITION": 1}}, {"attributes": {}}]}, {
                       "name": "ferry_a", "extras": {"class": "boat", "inner_box": 0.5},
                       "primitives": [{"attributes": {"POSITION": 0}}, {"attributes": {"POSITION": 1}}]
                   }], "accessors": [{"bufferView": 0, "componentType": 5126, "type": "VEC3", "count": 2}, {
                       "bufferView": 0, "componentType": 5126, "type": "VEC3", "count": 2, "min": [-4, 0, 0],
                       "max": [4, 1, 0]
                   }], "bufferViews": [{"buffer": 0, "byteLength": 24}], "buffers": [{
                       "byteLength": 24,
                       "uri": "data:application/octet-stream;base64," + base64.b64encode(CORNERS).decode()
                   }], "cameras": [{
                       "type": "perspective",
                       "perspective": {"yfov": 0.5, "aspectRatio": 2.4, "znear": 0.1, "zfar": 500}
                   }, {"type": "orthographic", "orthographic": {"xmag": 4, "ymag": 2, "znear": 0, "zfar": 9}}]
    }
    fields.update(changes)
    return fields


class GltfCase(KitCase):

    def setUp(self):
        super().setUp()
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name

    def write(self, fields, name="set.gltf"):
        path = os.path.join(self.folder, name)
        with open(path, "w", encoding="utf-8") as stream:
            json.dump(fields, stream)
        return path

    def write_glb(self, fields, chunk):
        text = json.dumps(fields).encode()
        text += b" " * (-len(text) % 4)
        path = os.path.join(self.folder, "set.glb")
        with open(path, "wb") as stream:
            stream.write(struct.pack("<III", 0x46546C67, 2, 12 + 8 + len(text) + 8 + len(chunk)))
            stream.write(struct.pack("<II", len(text), 0x4E4F534A) + text)
            stream.write(struct.pack("<II", len(chunk), 0x004E4942) + chunk)
        return path


class Reading(GltfCase):

    def test_nodes_with_meshes_are_objects(self):
        host = GltfHost(self.write(document()))
        objects = {thing.name: thing for thing in map(host.read_object, host.object_handles())}
        # Handles 1 and 2 share a path; ids are told apart when they are given.
        self.assertEqual([host.read_object(handle).name for handle in host.object_handles()],
                         ["quay/porter", "quay/porter", "quay/node_3", "ferry"])
        first = host.read_object(1)
        self.assertEqual((first.class_name, first.asset, first.box.least, first.box.most),
                         ("person", "porter_a", (-0.5, 0, -1.5), (0.5, 2, 1.5)))
        self.assertEqual(list(first.transforms[0]), at(10, 0, -5))
        second = host.read_object(2)
        self.assertEqual((second.class_name, second.importance, second.particulars.hold_group),
                         ("lead", 10, "pair"))
        # A quarter turn about Y and twice the size: X goes to -Z, Z to X.
        wanted = [0, 0, -2, 0, 0, 2, 0, 0, 2, 0, 0, 0, 10, 0, 0, 1]
        for got, want in zip(second.transforms[0], wanted):
            self.assertAlmostEqual(got, want,
                                   delta=1e-15)  # a unit in the last place of the quaternion's squares
        card = objects["quay/node_3"]
        self.assertEqual((card.asset, card.importance, card.box.most), ("mesh_1", None, (4, 1, 0)))
        ferry = objects["ferry"]
        self.assertEqual((ferry.class_name, ferry.particulars.inner_box, ferry.box.least, ferry.box.most),
                         ("boat", 0.5, (-4, 0, -1.5), (4, 2, 1.5)))

    def test_what_was_left_out_is_told(self):
        host = GltfHost(self.write(document(animations=[{}])))
        text = "\n".join(host.warnings)
        for wanted in ("nodes[3].extras.importance: is no number above 0; left out",
                       "nodes[3].extras.asset: is no string; left out", "1 objects left out",
                       "1 animations are not read", "camera 'main' is taken of 2"):
            self.assertIn(wanted, text)

    def test_cameras_have_film_that_gives_their_angle(self):
        path = self.write(document())
        camera, = GltfHost(path).cameras()
        self.assertEqual((camera.name, camera.window, camera.image_px, camera.near, camera.far),
                         ("main", (57.599999999999994, 24.0), (2048, 853), 0.1, 500))
        # 2 atan(12 / f) is the angle of view upright.
        self.assertAlmostEqual(2 * math.atan(12 / camera.focal_mm[0]), 0.5, places=14)
        self.assertEqual(list(camera.transforms[0]), at(1, 3.6, 3))
        flat = document()
        flat["nodes"][5].pop("camera")
        plan, = GltfHost(self.write(flat)).cameras()
        self.assertEqual((plan.orthographic, plan.window, plan.image_px), (True, (8, 4), (2048, 1024)))

    def test_a_glb_carries_its_own_buffer(self):
        fields = document(buffers=[{"byteLength": 24}])
        host = GltfHost(self.write_glb(fields, CORNERS))
        self.assertEqual(host.read_object(1).box.most, (0.5, 2, 1.5))

    @unittest.skipUnless("SCANTLING_PROGRAM" in os.environ, "needs the command line")
    def test_it_reads_what_the_command_line_imports(self):
        path = self.write(document())
        shot = os.path.join(self.folder, "shot.json")
        subprocess.run([os.environ["SCANTLING_PROGRAM"], "import", path, "--output", shot], check=True,
                       capture_output=True)
        with open(shot, encoding="utf-8") as stream:
            imported = json.load(stream)
        host = GltfHost(path)
        from scantling_kit.identity import IdRegistry
        ids = IdRegistry()
        convert = Converter(Conventions(), lambda handle, where: ids.id_of(handle,
                                                                           host.read_object(handle).name))
        from fake_daemon import MESSAGES
        from google.protobuf import json_format
        from scantling_kit.helper.plain import fill
        ours = MESSAGES.Shot(shot_id="set")
        fill(
            ours, {
                "frames": {"first": 1, "last": 1}, "rate": {"numerator": 24, "denominator": 1},
                "cameras": [convert.camera(camera, camera.name, 1) for camera in host.cameras()],
                "objects": [convert.object(host.read_object(handle), 1) for handle in host.object_handles()]
            })
        theirs = json_format.Parse(json.dumps(imported), MESSAGES.Shot(), descriptor_pool=MESSAGES.pool())
        for thing in ours.objects:
            if not thing.particulars.ListFields():
                thing.ClearField("particulars")
        self.assertEqual(str(ours), str(theirs))

    def test_every_fault_says_where(self):
        def broken(change):
            fields = document()
            change(fields)
            return fields

        for change, text in ((lambda f: f.update(asset={"version": "1.0"}),
                              "asset.version: got '1.0', want 2.x"),
                             (lambda f: f["nodes"][1].update(mesh=9),
                              "nodes[1].mesh: got 9, want an index below 3 into meshes"),
                             (lambda f: f["nodes"][0].update(children=[1, 1]), "nodes[1]: got two parents"),
                             (lambda f: f["nodes"][0].update(children=[77]),
                              "nodes[0].children: got 77"), (lambda f: f["nodes"][1].update(children=[0]),
                                                             "want a tree"),
                             (lambda f: f["nodes"][1].update(rotation=[0, 0, 0, 0]),
                              "nodes[1]: got the rotation"), (lambda f: f["nodes"][1].update(matrix=[1] * 16),
                                                              "last row of 0 0 0 1"),
                             (lambda f: f["nodes"][1].update(translation=[float("inf"), 0, 0]),
                              "want it finite"), (lambda f: f["bufferViews"][0].update(byteLength=23),
                                                  "accessors[0]: got an end at byte 24, want at most 23"),
                             (lambda f: f["accessors"][0].update(count=10**9),
                              "accessors[0]: got an end at byte"),
                             (lambda f: f["accessors"][0].update(sparse={}),
                              "accessors[0]: got a sparse one"),
                             (lambda f: f["accessors"][1].update(min=[5, 0, 0]), "accessors[1]: got min"),
                             (lambda f: f["buffers"][0].update(uri="../secret.bin"),
                              "outside the file's folder"), (lambda f: f["buffers"][0].update(uri="data:,!"),
                                                             "no base64"),
                             (lambda f: f["buffers"][0].pop("uri"), "want a uri or the BIN chunk"),
                             (lambda f: f["cameras"][0]["perspective"].update(yfov=4), "yfov: got 4"),
                             (lambda f: f["cameras"][0].update(type="fisheye"),
                              "want perspective or orthographic"), (lambda f: f.update(nodes=7),
                                                                    "nodes: got something else")):
            with self.assertRaises(GltfError) as caught:
                GltfHost(self.write(broken(change)))
            self.assertIn(text, str(caught.exception))
        for data in (b"", b"{", b"[]", b"glTF\x02\0\0\0\xff\0\0\0", struct.pack("<III", 0x46546C67, 2, 12)):
            path = os.path.join(self.folder, "noise.gltf")
            with open(path, "wb") as stream:
                stream.write(data)
            with self.assertRaises(GltfError, msg=data):
                GltfHost(path)


class Script(GltfCase):

    def host(self):
        return GltfHost(self.write(document()), ShotHeader("qy_010", 3))

    def place(self, host, handle):
        return list(host.read_object(handle).transforms[0][12:15])

    def test_steps_come_at_their_time_in_order(self):
        host = self.host()
        replay = Replay(
            host,
            [{"at_s": 2, "move": "ferry", "by": [0, 0, 1]}, {"at_s": 1, "move": "ferry", "by": [1, 0, 0]},
             {"at_s": 2, "rename": "ferry", "to": "boat"}])
        self.assertEqual((replay.until(0.5), replay.until(1.5), replay.finished), (0, 1, False))
        self.assertEqual(self.place(host, 4), [2, 2, 3])
        self.assertEqual((replay.until(9), replay.finished), (2, True))
        self.assertEqual((self.place(host, 4), host.read_object(4).name), ([2, 2, 4], "boat"))

    def test_every_kind_of_step(self):
        host = self.host()
        for step in ({"track": "main", "from": [0, 1, 0], "to": [0, 1,
                                                                 -8]}, {"set": "ferry", "importance": 3},
                     {"add": "ferry 2", "like": "ferry",
                      "by": [0, 0, -9]}, {"remove": "ferry"}, {"options": {"anim_hours": 4}}, {"frame": 2},
                     {"place": "quay/node_3", "matrix": at(1, 1, 1)}):
            host.apply(step)
        camera, = host.cameras()
        self.assertEqual([list(matrix[12:15]) for matrix in camera.transforms],
                         [[0, 1, 0], [0, 1, -4], [0, 1, -8]])
        names = [host.read_object(handle).name for handle in host.object_handles()]
        self.assertEqual(names, ["quay/porter", "quay/porter", "quay/node_3", "ferry 2"])
        self.assertEqual((self.place(host, 3), host.options().anim_hours, host.current_frame()),
                         ([1, 1, 1], 4, 2))
        self.assertEqual(host.read_object("added 1").importance, 3)

    def test_a_step_that_cannot_be_done_says_why(self):
        for step, text in (({}, "got no kind"), ({"move": "x", "remove": "x"}, "got ['move', 'remove']"),
                           ({"move": "nobody",
                             "by": [0, 0,
                                    0]}, "got 'nobody', want the name"), ({"move": "ferry"}, "KeyError 'by'"),
                           ({"remove": "main"}, "got the camera 'main'"), ({"set": "ferry",
                                                                            "handle": 3}, "got ['handle']"),
                           ({"place": "ferry", "matrix": [1]}, "want 16")):
            with self.assertRaises(ScriptError, msg=step) as caught:
                self.host().apply(step)
            self.assertIn(text, str(caught.exception))
        with self.assertRaises(ScriptError) as caught:
            Replay(self.host(), [{"move": "ferry"}, {"at_s": -1}])
        self.assertEqual(
            str(caught.exception), "step 0: got at_s None, want seconds from 0; step 1: got at_s -1, "
            "want seconds from 0")

    def test_a_script_drives_a_live_shot(self):
        fields = document()
        for node in fields["nodes"]:
            node.get("extras", {}).pop("importance", None)
        for mesh in fields["meshes"]:
            mesh.get("extras", {}).pop("class", None)  # the fake knows no boats
        host = GltfHost(self.write(fields), ShotHeader("qy_010", 3))
        self.start(host)
        self.until_final()
        # The camera stands at (1, 3.6, 3): the ferry at (1, 2, 3) is near.
        self.assertEqual(self.live.decisions[4].tier, "FULL_RIG")
        script = self.write(
            [{"at_s": 0.1, "move": "main", "by": [0, 0, 50]}, {"at_s": 0.2, "remove": "quay/node_3"},
             {"at_s": 0.3, "rename": "ferry", "to": "boat"}], "script.json")
        replay = Replay(host, script)
        for tick in range(4):
            replay.until(tick / 10)
            self.until_final()
        self.assertTrue(replay.finished)
        self.assertEqual((self.live.decisions[4].tier, self.live.decisions[4].name, 3 in self.live.decisions),
                         ("PROXY", "boat", False))
        self.assertEqual(sorted(self.daemon.only_session().objects),
                         ["ferry", "quay/porter", "quay/porter#2"])


if __name__ == "__main__":
    unittest.main()
