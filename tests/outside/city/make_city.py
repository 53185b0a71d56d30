#!/usr/bin/env python3
"""Makes a city in traffic: a glTF 2.0 file with vehicles, people, buildings and two cameras.

SUMO (Debian's sumo) builds a grid of streets with traffic lights and pavements and moves everybody; here its places,
one each 0.04 s, are brought to 24 frames a second and written as animation channels. Whoever stands through the whole
shot (parked, or queued at a light) becomes a node without channels. Whoever is not there in every frame is left out.
The same arguments give the same file. Every number about the city is invented.

SUMO: x east, y north, metres, angles in degrees clockwise from north; a vehicle's place is the middle of its front.
glTF: x east, y up, z south; things face -z.
"""

import argparse
import array
import json
import math
import os
import random
import subprocess
import xml.etree.ElementTree as ElementTree

STREET_M = 100  # between junctions
BUILDING_FROM_M = 13  # from the middle of a street: two lanes of 3.2 m and a pavement, and some air
STEP_S = 0.04
FPS = 24

# type: (class of the catalogue, vClass, width, height, length), metres
TYPES = {
    "car": ("cart", "passenger", 1.8, 1.5, 4.5),
    "van": ("cart", "delivery", 2.0, 2.4, 6.0),
    "bicycle": ("bicycle", "bicycle", 0.6, 1.7, 1.6),
}
PERSON = ("person", "pedestrian", 0.5, 1.7, 0.4)


def edges_of(size):
    """Every street, both ways, by the names that netgenerate gives."""
    name = lambda column, row: f"{chr(ord('A') + column)}{row}"
    edges = []
    for column in range(size):
        for row in range(size):
            for step in ((1, 0), (0, 1), (-1, 0), (0, -1)):
                to = (column + step[0], row + step[1])
                if 0 <= to[0] < size and 0 <= to[1] < size:
                    edges.append(name(column, row) + name(*to))
    return edges


def write_demand(path, options, chance):
    """An eighth parked, a third on foot, the rest driving somewhere."""
    edges = edges_of(options.grid)
    parked, people = options.count // 8, options.count // 3
    lines = ["<routes>"]
    for name, (_, vclass, width, height, length) in TYPES.items():
        lines.append(f'<vType id="{name}" vClass="{vclass}" length="{length}" width="{width}" height="{height}"/>')
    for i in range(parked):
        edge = chance.choice(edges)
        at = chance.uniform(30, 80)
        lines.append(
            f'<trip id="parked{i}" type="{chance.choice(["car", "van"])}" depart="0" from="{edge}" to="{edge}" '
            f'departPos="{at - 1:.1f}" departSpeed="0"><stop edge="{edge}" endPos="{at:.1f}" parking="true" '
            'duration="100000"/></trip>')
    for i in range(options.count - parked - people):
        start, end = chance.sample(edges, 2)
        kind = chance.choices(["car", "van", "bicycle"], [6, 2, 2])[0]
        lines.append(f'<trip id="drive{i}" type="{kind}" depart="0" from="{start}" to="{end}" departPos="random_free" '
                     'departLane="best" departSpeed="0"/>')
    for i in range(people):
        start, end = chance.sample(edges, 2)
        lines.append(f'<person id="walk{i}" depart="0" departPos="{chance.uniform(5, 75):.1f}">'
                     f'<walk from="{start}" to="{end}"/></person>')
    lines.append("</routes>")
    with open(path, "w", encoding="utf-8") as file:
        file.write("\n".join(lines))


def run(*command):
    environment = dict(os.environ, SUMO_HOME=os.environ.get("SUMO_HOME", "/usr/share/sumo"))
    try:
        done = subprocess.run(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
    except FileNotFoundError:
        raise SystemExit(f"found no {command[0]}, want it in PATH (Debian's package sumo)") from None
    if done.returncode != 0:
        raise SystemExit(f"{command[0]} ended with {done.returncode}:\n{done.stdout.decode()[-2000:]}")


def simulate(options, chance):
    """Places by step: [{id: (type, x, y, angle)}], the first at the first frame."""
    folder = options.folder
    net, demand, fcd = (os.path.join(folder, name) for name in ("net.xml", "demand.xml", "places.xml"))
    run("netgenerate", "--grid", "--grid.number", str(options.grid), "--grid.length", str(STREET_M), "-L", "2",
        "--default-junction-type", "traffic_light", "--sidewalks.guess", "--crossings.guess", "--no-turnarounds",
        "false", "--seed", str(options.seed), "-o", net)
    write_demand(demand, options, chance)
    end_s = options.warm_up + options.seconds + 2 * STEP_S
    run("sumo", "-n", net, "-r", demand, "--step-length", str(STEP_S), "--end", f"{end_s:.2f}", "--seed",
        str(options.seed), "--fcd-output", fcd, "--device.fcd.begin", str(options.warm_up), "--time-to-teleport", "-1",
        "--no-step-log", "--no-warnings")
    steps = []
    for _, element in ElementTree.iterparse(fcd):
        if element.tag != "timestep":
            continue
        if float(element.get("time")) >= options.warm_up - STEP_S / 2:
            steps.append({
                one.get("id"): (one.get("type") if one.tag == "vehicle" else "person", float(one.get("x")),
                                float(one.get("y")), float(one.get("angle")))
                for one in element
            })
        element.clear()
    return steps


def resample(steps, name, frames):
    """Places at 24 frames a second: [(x, y, angle)], straight between two steps."""
    places = []
    for frame in range(frames):
        at = frame / FPS / STEP_S
        step = min(int(at), len(steps) - 2)
        share = at - step
        _, x0, y0, a0 = steps[step][name]
        _, x1, y1, a1 = steps[step + 1][name]
        turn = (a1 - a0 + 180) % 360 - 180
        places.append((x0 + share * (x1 - x0), y0 + share * (y1 - y0), a0 + share * turn))
    return places


def about_y(radians):
    return [0, math.sin(radians / 2), 0, math.cos(radians / 2)]


def looking(yaw, pitch):
    """Quaternion of a camera turned by yaw about +y, then by pitch about its own x."""
    (_, y, _, w), (x, v) = about_y(yaw), (math.sin(pitch / 2), math.cos(pitch / 2))
    return [w * x, y * v, -y * x, w * v]


class Gltf:
    """A document and its buffer."""

    def __init__(self, frames):
        self.buffer = bytearray()
        self.document = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": []}], "nodes": [], "meshes": [],
                         "cameras": [], "accessors": [], "bufferViews": [], "animations": []}
        self.times = self.floats([frame / FPS for frame in range(frames)], 1)
        self.channels = {"channels": [], "samplers": []}

    def floats(self, numbers, width, limits=False):
        data = array.array("f", numbers).tobytes()
        document = self.document
        document["bufferViews"].append({"buffer": 0, "byteOffset": len(self.buffer), "byteLength": len(data)})
        self.buffer += data
        accessor = {"bufferView": len(document["bufferViews"]) - 1, "componentType": 5126,
                    "count": len(numbers) // width, "type": {1: "SCALAR", 3: "VEC3", 4: "VEC4"}[width]}
        if limits or width == 1:
            accessor["min"] = [min(numbers[k::width]) for k in range(width)]
            accessor["max"] = [max(numbers[k::width]) for k in range(width)]
        document["accessors"].append(accessor)
        return len(document["accessors"]) - 1

    def box(self, name, low, high, class_name):
        corners = [v for k in range(8) for v in ((low, high)[k & 1][0], (low, high)[k >> 1 & 1][1],
                                                 (low, high)[k >> 2 & 1][2])]
        self.document["meshes"].append({
            "name": name, "extras": {"scantling_class": class_name},
            "primitives": [{"attributes": {"POSITION": self.floats(corners, 3, limits=True)}, "mode": 0}]})
        return len(self.document["meshes"]) - 1

    def node(self, **fields):
        self.document["nodes"].append(fields)
        self.document["scenes"][0]["nodes"].append(len(self.document["nodes"]) - 1)
        return len(self.document["nodes"]) - 1

    def animate(self, node, path, numbers, width):
        self.channels["samplers"].append({"input": self.times, "output": self.floats(numbers, width)})
        self.channels["channels"].append({"sampler": len(self.channels["samplers"]) - 1,
                                          "target": {"node": node, "path": path}})

    def write(self, path):
        if self.channels["channels"]:
            self.document["animations"].append(self.channels)
        binary = os.path.splitext(path)[0] + ".bin"
        self.document["buffers"] = [{"byteLength": len(self.buffer), "uri": os.path.basename(binary)}]
        with open(binary, "wb") as file:
            file.write(self.buffer)
        with open(path, "w", encoding="utf-8") as file:
            json.dump(self.document, file)


def add_traffic(gltf, steps, frames):
    """Everybody who is there in every step. Returns how many move and how many stand."""
    meshes = {}
    for kind, (class_name, _, width, height, length) in dict(TYPES, person=PERSON).items():
        meshes[kind] = gltf.box(kind, (-width / 2, 0, 0), (width / 2, height, length), class_name)
    moving = standing = 0
    names = set(steps[0]).intersection(*steps[1:])
    for name in sorted(names):
        places = resample(steps, name, frames)
        kind = steps[0][name][0]
        translations = [v for x, y, _ in places for v in (x, 0, -y)]
        rotations = [v for _, _, angle in places for v in about_y(-math.radians(angle))]
        node = gltf.node(name=name, mesh=meshes[kind], translation=translations[:3], rotation=rotations[:4])
        if len(set(steps[k][name] for k in range(len(steps)))) == 1:
            standing += 1
            continue
        moving += 1
        gltf.animate(node, "translation", translations, 3)
        gltf.animate(node, "rotation", rotations, 4)
    return moving, standing


def add_buildings(gltf, grid, chance):
    """Four to a block, of 8 to 22 m, with alleys of 4 m between them."""
    side = (STREET_M - 2 * BUILDING_FROM_M - 4) / 2
    count = 0
    for column in range(grid - 1):
        for row in range(grid - 1):
            for corner in range(4):
                x = column * STREET_M + BUILDING_FROM_M + (corner & 1) * (side + 4)
                y = row * STREET_M + BUILDING_FROM_M + (corner >> 1) * (side + 4)
                mesh = gltf.box(f"house{count}", (0, 0, 0), (side, chance.uniform(8, 22), side), "dwelling")
                gltf.node(name=f"house{count}", mesh=mesh, translation=[x, 0, -y - side])
                count += 1
    return count


def add_camera(gltf, name, track, frames):
    """track: (from, to, yaw, pitch); it goes straight and evenly, with one angle of view."""
    start, end, yaw, pitch = track
    gltf.document["cameras"].append({"type": "perspective", "name": name, "perspective": {
        "yfov": 0.6, "aspectRatio": 2048 / 858, "znear": 0.1}})
    node = gltf.node(name=name, camera=len(gltf.document["cameras"]) - 1, translation=list(start),
                     rotation=looking(yaw, pitch))
    last = max(frames - 1, 1)
    gltf.animate(node, "translation",
                 [a + (b - a) * frame / last for frame in range(frames) for a, b in zip(start, end)], 3)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("output", help="the .gltf file; its .bin goes beside it")
    parser.add_argument("--folder", required=True, help="for what SUMO reads and writes")
    parser.add_argument("--count", type=int, default=400, help="vehicles and people that set out")
    parser.add_argument("--grid", type=int, default=5, help="junctions each way, at most 26")
    parser.add_argument("--seconds", type=float, default=3)
    parser.add_argument("--warm-up", type=int, default=40, help="seconds of traffic before the shot")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    frames = round(options.seconds * FPS)
    steps = simulate(options, chance)
    gltf = Gltf(frames)
    moving, standing = add_traffic(gltf, steps, frames)
    buildings = add_buildings(gltf, options.grid, chance)
    middle = (options.grid - 1) // 2 * STREET_M
    add_camera(gltf, "street", ((middle - 25, 1.7, -middle + 5), (middle - 22, 1.7, -middle + 5), math.radians(-75), 0),
               frames)
    add_camera(gltf, "aerial", ((-20, 70, 20), (-12, 70, 12), math.radians(-45), math.radians(-25)), frames)
    gltf.write(options.output)
    print(json.dumps({"moving": moving, "standing": standing, "buildings": buildings, "frames": frames}))


if __name__ == "__main__":
    main()
