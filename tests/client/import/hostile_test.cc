// Broken and hostile files: each is refused with a message that names the place.

#include <filesystem>
#include <fstream>
#include <limits>

#include "gmock/gmock.h"
#include "tests/client/import/build_gltf.h"

namespace scantling {
namespace {

using testing::HasSubstr;

GltfBuilder Cube() {
  GltfBuilder builder;
  builder.Node({{"name", "cube"}, {"mesh", builder.UnitCube()}});
  return builder;
}

// The refusal of the cube with one field of its document set.
std::string RefusalWith(const char* pointer, const json& value) {
  GltfBuilder builder = Cube();
  builder.document[json::json_pointer(pointer)] = value;
  return Refusal(builder.Gltf());
}

TEST(ImportHostile, IndicesOutOfRange) {
  EXPECT_EQ(RefusalWith("/nodes/0/mesh", 1), "nodes[0].mesh: got 1, want an index into the 1 meshes");
  EXPECT_EQ(RefusalWith("/nodes/0/camera", 0), "nodes[0].camera: got 0, want an index into the 0 cameras");
  EXPECT_EQ(RefusalWith("/nodes/0/children", {7}), "nodes[0].children[0]: got 7, want an index into the 1 nodes");
  EXPECT_EQ(RefusalWith("/nodes/0/mesh", -1), "nodes[0].mesh: got -1, want an index into the 1 meshes");
  EXPECT_EQ(RefusalWith("/meshes/0/primitives/0/attributes/POSITION", 9),
            "meshes[0].primitives[0].attributes.POSITION: got 9, want an index into the 1 accessors");
  EXPECT_EQ(RefusalWith("/accessors/0/bufferView", 3),
            "accessors[0].bufferView: got 3, want an index into the 1 bufferViews");
  EXPECT_EQ(RefusalWith("/bufferViews/0/buffer", 1), "bufferViews[0].buffer: got 1, want an index into the 1 buffers");
  EXPECT_EQ(RefusalWith("/scene", 0), "scene: got 0, want an index into the 0 scenes");
}

TEST(ImportHostile, WrongTypesAreToldAllAtOnce) {
  GltfBuilder builder = Cube();
  builder.document["nodes"][0]["mesh"] = "cube";
  builder.document["nodes"][0]["translation"] = {1, 2};
  builder.document["accessors"][0].erase("count");
  builder.document["asset"].erase("version");
  EXPECT_EQ(Refusal(builder.Gltf()),
            "asset.version: got nothing, want it given\n"
            "accessors[0].count: got nothing, want it given\n"
            "nodes[0].mesh: got a string, want an index into the 1 meshes\n"
            "nodes[0].translation: got 2 numbers, want 3");
}

TEST(ImportHostile, AccessorsAndViewsThatLeaveTheirBytes) {
  EXPECT_EQ(RefusalWith("/accessors/0/count", 3),
            "accessors[0]: got an end at byte 36, want at most the 24 of bufferViews[0]");
  EXPECT_EQ(RefusalWith("/accessors/0/count", 2147483647),
            "accessors[0]: got an end at byte 25769803764, want at most the 24 of bufferViews[0]");
  EXPECT_EQ(RefusalWith("/accessors/0/byteOffset", 4),
            "accessors[0]: got an end at byte 28, want at most the 24 of bufferViews[0]");
  EXPECT_EQ(RefusalWith("/accessors/0/count", 0), "accessors[0].count: got 0, want at least 1");
  EXPECT_EQ(RefusalWith("/bufferViews/0/byteLength", 25),
            "bufferViews[0]: got an end at byte 25, want at most the 24 of its buffer");
  EXPECT_EQ(RefusalWith("/bufferViews/0/byteStride", 8), "accessors[0]: got a stride of 8 bytes, want at least 12");
}

TEST(ImportHostile, BoundsThatAreNone) {
  EXPECT_EQ(RefusalWith("/accessors/0/min", {2, 0, 0}), "accessors[0]: got min 2 above max 1, want not above");
  GltfBuilder builder = Cube();
  builder.document["accessors"][0].erase("min");
  builder.document["accessors"][0].erase("bufferView");
  EXPECT_EQ(Refusal(builder.Gltf()),
            "accessors[0]: got an accessor without a buffer view, want one with it, or min and max of three numbers");
  GltfBuilder infinite;
  infinite.Node({{"mesh", infinite.UnitCube()}});
  const int bad = infinite.Floats({0, std::numeric_limits<float>::quiet_NaN(), 0}, "VEC3");
  infinite.document["meshes"][0]["primitives"][0]["attributes"]["POSITION"] = bad;
  EXPECT_EQ(Refusal(infinite.Gltf()), "accessors[1]: got a number that is not finite, want all finite");
}

TEST(ImportHostile, HierarchiesThatAreNoForest) {
  GltfBuilder cycle;
  cycle.Node({{"children", {1}}});
  cycle.Node({{"children", {0}}});
  EXPECT_EQ(Refusal(cycle.Gltf()), "nodes[0]: got a cycle of children, want a tree");
  GltfBuilder self;
  self.Node({{"children", {0}}});
  EXPECT_EQ(Refusal(self.Gltf()), "nodes[0]: got a cycle of children, want a tree");
  GltfBuilder shared;
  shared.Node({{"children", {2}}});
  shared.Node({{"children", {2}}});
  shared.Node({{"name", "both"}});
  EXPECT_EQ(Refusal(shared.Gltf()), "nodes[2]: got two parents, nodes[0] and nodes[1], want at most one");
  GltfBuilder listed;
  listed.Node({{"children", {1}}});
  listed.Node({{"name", "child"}});
  listed.document["scenes"] = {{{"nodes", {0, 1}}}};
  EXPECT_EQ(Refusal(listed.Gltf()), "scenes[0].nodes: got nodes[1], a child of nodes[0], want roots only");
  listed.document["scenes"] = {{{"nodes", {0, 0}}}};
  EXPECT_EQ(Refusal(listed.Gltf()), "scenes[0].nodes: got nodes[0] twice, want each root once");
}

TEST(ImportHostile, NodesNestedTooDeep) {
  GltfBuilder builder;
  for (int i = 0; i < 1000; ++i) builder.Node({{"children", {i + 1}}});
  builder.Node({{"name", "deepest"}});
  EXPECT_EQ(Refusal(builder.Gltf()), "nodes[1000]: got nesting deeper than 1000 nodes, want at most that");
}

TEST(ImportHostile, JsonNestedTooDeepOrBroken) {
  EXPECT_EQ(Refusal("{\n \"extras\": " + std::string(100'000, '[')),
            "JSON line 2, column 75: got nesting deeper than 64, want at most that");  // 1 + 11 + 63 brackets fit
  EXPECT_EQ(Refusal("{\n  \"asset\": oops}"),
            "JSON line 2, column 12: got something else, want well-formed JSON in UTF-8");
  EXPECT_EQ(Refusal(""), "JSON line 1, column 1: got something else, want well-formed JSON in UTF-8");
  EXPECT_EQ(Refusal("{\"a\": 1e999}"), "JSON: got a number out of range, want one a double can hold");
  EXPECT_EQ(Refusal("[1]"), "the document: got an array, want an object");
}

TEST(ImportHostile, MoreValuesThanAreRead) {
  EXPECT_THAT(Refusal("[" + std::string(8'000'001, ',') + "]"), HasSubstr("got more than 8000000 values"));
}

TEST(ImportHostile, TruncatedGlbAtEveryLength) {
  const std::string glb = Cube().Glb();
  for (size_t length = 0; length < glb.size(); ++length) {
    EXPECT_FALSE(ImportGltfBytes(std::string_view(glb).substr(0, length), {}).ok()) << length;
  }
  EXPECT_EQ(Refusal(glb.substr(0, 8)), "GLB header: got 8 bytes, want 12");
  EXPECT_EQ(Refusal(glb.substr(0, 100)), "GLB file: got 100 bytes, want " + std::to_string(glb.size()));
}

TEST(ImportHostile, GlbWithLyingHeaders) {
  const auto u32 = GltfBuilder::U32;
  EXPECT_EQ(Refusal("glTF" + u32(1) + u32(12)), "GLB version: got 1, want 2");
  EXPECT_EQ(Refusal("glTF" + u32(2) + u32(4)), "GLB length: got 4, want at least 12");
  EXPECT_EQ(Refusal("glTF" + u32(2) + u32(16) + u32(0)), "GLB JSON chunk: got 4 bytes of its header, want 8");
  EXPECT_EQ(Refusal("glTF" + u32(2) + u32(20) + u32(4294967295u) + "JSON"),
            "GLB JSON chunk: got 0 bytes, want 4294967295");
  EXPECT_EQ(Refusal("glTF" + u32(2) + u32(20) + u32(0) + "ABCD"),
            "GLB chunk type: got 1145258561, want 1313821514 (JSON)");
}

// One BIN chunk, copied once per buffer that claims it, would be a bomb.
TEST(ImportHostile, OnlyTheFirstBufferOfAGlbHasNoUri) {
  GltfBuilder builder = Cube();
  json document = builder.document;
  document["buffers"] = {{{"byteLength", 24}}, {{"byteLength", 24}}};
  std::string text = document.dump();
  text.resize((text.size() + 3) / 4 * 4, ' ');
  const std::string glb =
      "glTF" + GltfBuilder::U32(2) + GltfBuilder::U32(20 + text.size()) + GltfBuilder::U32(text.size()) + "JSON" + text;
  EXPECT_EQ(Refusal(glb),
            "buffers[0].byteLength: got 24, want at most the 0 bytes of the BIN chunk\n"
            "buffers[1].uri: got nothing, want it given (only the first buffer of a GLB may go without)");
}

TEST(ImportHostile, BuffersThatCannotBe) {
  const std::string start = R"({"asset": {"version": "2.0"}, "buffers": [)";
  EXPECT_EQ(Refusal(start + R"({"byteLength": 4}]})"),
            "buffers[0].uri: got nothing, want it given (only the first buffer of a GLB may go without)");
  EXPECT_EQ(Refusal(start + R"({"byteLength": 0, "uri": "a.bin"}]})"), "buffers[0].byteLength: got 0, want at least 1");
  EXPECT_EQ(Refusal(start + R"({"byteLength": 2000000000, "uri": "a.bin"}]})"),
            "buffers: got 2000000000 bytes together, want at most 1073741824");
  EXPECT_EQ(Refusal(start + R"({"byteLength": 4, "uri": "a.bin"}]})"),
            "buffers[0].uri: got 'a.bin', want its bytes inside the file, as only bytes were given");
  EXPECT_THAT(Refusal(start + R"({"byteLength": 400, "uri": "data:application/octet-stream;base64,AAAA"}]})"),
              HasSubstr("got what tinygltf cannot read: Failed to decode"));
}

// A file beside which lies secret.bin one folder up.
TEST(ImportHostile, BinFilesOnlyBelowTheFilesOwnFolder) {
  const std::filesystem::path root = std::filesystem::path(testing::TempDir()) / "import_hostile";
  std::filesystem::create_directories(root / "in");
  std::ofstream(root / "secret.bin") << "0123456789";
  std::ofstream(root / "in" / "a b.bin") << "0123456789";
  const auto import = [&root](const std::string& uri, int bytes) {
    const std::string path = root / "in" / "x.gltf";
    std::ofstream(path) << R"({"asset": {"version": "2.0"}, "buffers": [{"byteLength": )" << bytes << R"(, "uri": ")"
                        << uri << R"("}]})";
    const absl::Status status = ImportGltf(path, {}).status();
    const std::string message(status.message().data(), status.message().size());
    return status.ok() ? "read" : message.substr(std::min(message.size(), path.size() + 2));
  };
  EXPECT_EQ(import("a%20b.bin", 10), "read");
  EXPECT_EQ(import("a%20b.bin", 7), "read");  // a longer file is legal
  EXPECT_EQ(import("a%20b.bin", 11), "buffers[0].uri: got 10 bytes in 'a b.bin', want 11");
  EXPECT_EQ(import("../secret.bin", 10),
            "buffers[0].uri: got '../secret.bin', want a path below the file's own folder, "
            "or base64 data of a known kind");
  EXPECT_EQ(import("%2e%2e/secret.bin", 10),
            "buffers[0].uri: got '../secret.bin', want a path below the file's own "
            "folder, or base64 data of a known kind");
  EXPECT_THAT(import((root / "secret.bin").string(), 10), HasSubstr("want a path below the file's own folder"));
  EXPECT_THAT(import("http://example.com/a.bin", 10), HasSubstr("want a path below the file's own folder"));
  EXPECT_EQ(import("none.bin", 10), "buffers[0].uri: got 'none.bin', want a file that exists beside the glTF file");
  std::filesystem::remove_all(root);
}

TEST(ImportHostile, InstancingBombs) {
  GltfBuilder builder = Cube();
  builder.document["accessors"].push_back({{"componentType", 5126}, {"count", 2'000'000'000}, {"type", "VEC3"}});
  json& attributes = builder.document["nodes"][0]["extensions"]["EXT_mesh_gpu_instancing"]["attributes"];
  attributes["TRANSLATION"] = 1;
  EXPECT_EQ(Refusal(builder.Gltf()), "objects: got 2000000000, want at most 1000000");
  builder.document["accessors"][1]["count"] = 5;
  EXPECT_EQ(
      Refusal(builder.Gltf()),
      "nodes[0].extensions.EXT_mesh_gpu_instancing.attributes.TRANSLATION (accessors[1]): got an accessor without "
      "a buffer view, want one with it");
  attributes["SCALE"] = 0;
  EXPECT_EQ(Refusal(builder.Gltf()),
            "nodes[0].extensions.EXT_mesh_gpu_instancing.attributes: got 2 elements of SCALE, want 5 as of the "
            "attribute before");
  attributes.erase("TRANSLATION");
  attributes.erase("SCALE");
  EXPECT_EQ(Refusal(builder.Gltf()),
            "nodes[0].extensions.EXT_mesh_gpu_instancing.attributes: got none of TRANSLATION, ROTATION, SCALE, want at "
            "least one");
  attributes["ROTATION"] = 0;
  EXPECT_EQ(Refusal(builder.Gltf()),
            "nodes[0].extensions.EXT_mesh_gpu_instancing.attributes.ROTATION (accessors[0]): got 3 numbers an element, "
            "want 4");
  attributes["ROTATION"] = builder.Floats({0, 0, 0, 0}, "VEC4");
  EXPECT_EQ(
      Refusal(builder.Gltf()),
      "nodes[0].extensions.EXT_mesh_gpu_instancing.attributes.ROTATION: got length 0 at element 0, want length 1");
}

// The refusal of a cube moved by keys at `times` to `values`.
std::string RefusalOfKeys(const std::vector<float>& times, const std::vector<float>& values, const char* path,
                          const char* interpolation) {
  GltfBuilder builder = Cube();
  const int input = builder.Floats(times, "SCALAR");
  const int output = builder.Floats(values, std::string(path) == "rotation" ? "VEC4" : "VEC3");
  builder.Animate(0, path, interpolation, input, output);
  return Refusal(builder.Gltf());
}

TEST(ImportHostile, KeysThatAreNone) {
  EXPECT_EQ(RefusalOfKeys({1, 1}, {0, 0, 0, 1, 1, 1}, "translation", "LINEAR"),
            "animations[0].samplers[0].input: got time 1 after 1, want rising times");
  EXPECT_EQ(RefusalOfKeys({0, 1}, {0, 0, 0}, "translation", "LINEAR"),
            "animations[0].samplers[0].output: got 1 elements for 2 times, want 2");
  EXPECT_EQ(RefusalOfKeys({0, 1}, {0, 0, 0, 1, 1, 1}, "scale", "CUBICSPLINE"),
            "animations[0].samplers[0].output: got 2 elements for 2 times, want 6");
  EXPECT_EQ(RefusalOfKeys({0}, {0, 0, 0, 0}, "rotation", "STEP"),
            "animations[0].samplers[0].output: got a rotation of length 0 at element 0, want length 1");
  EXPECT_EQ(RefusalOfKeys({0}, {0, 0, 0}, "colour", "STEP"),
            "animations[0].channels[0].target.path: got 'colour', want translation, rotation, scale or weights");
  EXPECT_EQ(RefusalOfKeys({0}, {0, 0, 0}, "scale", "WAVE"),
            "animations[0].samplers[0].interpolation: got 'WAVE', want LINEAR, STEP or CUBICSPLINE");
  EXPECT_EQ(RefusalOfKeys({0, 1e30f}, {0, 0, 0, 1, 1, 1}, "translation", "STEP"),
            "frames: got more than 100000 or past the last number, want a last frame nearer to the first");
}

TEST(ImportHostile, ChannelsThatPointNowhere) {
  GltfBuilder builder = Cube();
  const int times = builder.Floats({0}, "SCALAR");
  builder.Animate(0, "translation", "STEP", times, builder.Floats({0, 0, 0}, "VEC3"));
  builder.document["animations"][0]["channels"][0]["sampler"] = 4;
  EXPECT_EQ(Refusal(builder.Gltf()), "animations[0].channels[0].sampler: got 4, want an index into the 1 samplers");
  builder.document["animations"][0]["channels"][0]["sampler"] = 0;
  builder.document["nodes"][0]["matrix"] = {1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1};
  EXPECT_EQ(Refusal(builder.Gltf()),
            "animations[0].channels[0]: got nodes[0] with a matrix, want translation, rotation, scale");
}

TEST(ImportHostile, PlacesThatAreNone) {
  EXPECT_EQ(RefusalWith("/nodes/0/rotation", {0, 0, 0, 0}),
            "nodes[0].rotation: got a quaternion of no length, want length 1");
  EXPECT_EQ(RefusalWith("/nodes/0/matrix", {1, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1}),
            "nodes[0].matrix: got a last row other than 0 0 0 1, want that");
  GltfBuilder huge;
  const int child = huge.Node({{"mesh", huge.UnitCube()}, {"scale", {1e300, 1e300, 1e300}}});
  huge.Node({{"children", {child}}, {"scale", {1e300, 1e300, 1e300}}});
  EXPECT_EQ(Refusal(huge.Gltf()), "nodes[0]: got a place that is not finite 0 frames in, want it finite");
}

TEST(ImportHostile, MorePosesThanAreHeld) {
  GltfBuilder builder = Cube();
  for (int i = 0; i < 49; ++i) builder.Node({{"mesh", 0}, {"name", "copy"}});
  const int times = builder.Floats({0, 1}, "SCALAR");
  const int values = builder.Floats({0, 0, 0, 1, 1, 1}, "VEC3");
  for (int i = 0; i < 50; ++i) builder.Animate(i, "translation", "LINEAR", times, values);
  EXPECT_EQ(Refusal(builder.Gltf(), {.last_frame = 100'000}),
            "poses: got 5000000 of 5000000 node visits, want at most 4000000 of 40000000: take fewer frames");
}

TEST(ImportHostile, OptionsOutOfRangeAreToldAtOnce) {
  EXPECT_EQ(Refusal(Cube().Gltf(), {.first_frame = 5,
                                    .last_frame = 4,
                                    .rate_numerator = 0,
                                    .rate_denominator = -1,
                                    .width_px = 0,
                                    .height_px = -1,
                                    .default_class = "none",
                                    .known_classes = {"prop"}}),
            "rate_numerator: got 0, want 1 to 2147483647\n"
            "rate_denominator: got -1, want 1 to 2147483647\n"
            "width_px: got 0, want 1 to 65536\n"
            "height_px: got -1, want 0 to 65536\n"
            "last_frame: got 4, want 5 to 100004\n"
            "default_class: got 'none', want a class that is known");
}

TEST(ImportHostile, MissingFileIsNotFound) {
  EXPECT_EQ(ImportGltf("no_such_file.glb", {}).status().code(), absl::StatusCode::kNotFound);
  EXPECT_EQ(ImportGltf(testing::TempDir(), {}).status().code(), absl::StatusCode::kInvalidArgument);
}

}  // namespace
}  // namespace scantling
