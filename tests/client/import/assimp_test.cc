// Three models of Debian's assimp-testmodels, with counts and places confirmed by the assimp command line
// (assimp-utils).
//
// assimp puts all roots under one node "ROOT" where a scene has several, counts one mesh per primitive, and names a
// nameless node "nodes[<index>]"; the import names it "node_<index>". Its text dump has six decimals.

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <sstream>
#include <string>
#include <vector>

#include "client/import/import_gltf.h"
#include "client/import/matrix.h"
#include "gmock/gmock.h"
#include "gtest/gtest.h"

namespace scantling {
namespace {

constexpr char kEngine[] = SCANTLING_MODELS "/2CylinderEngine-glTF-Binary/2CylinderEngine.glb";
constexpr char kCameras[] = SCANTLING_MODELS "/cameras/Cameras.gltf";
constexpr char kAnimated[] = SCANTLING_MODELS "/simple_skin/simple_skin.gltf";

std::string Run(const std::string& command) {
  FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return "";
  std::string output;
  std::array<char, 4096> chunk;
  while (const size_t got = fread(chunk.data(), 1, chunk.size(), pipe)) output.append(chunk.data(), got);
  pclose(pipe);
  return output;
}

// The number `assimp info` prints beside a word, without any post-processing.
int AssimpCount(const std::string& info, const std::string& word) {
  std::smatch match;
  if (!std::regex_search(info, match, std::regex(word + ":\\s+(\\d+)"))) return -1;
  return std::stoi(match[1]);
}

GltfImport Import(const char* path) {
  absl::StatusOr<GltfImport> result = ImportGltf(path, {});
  EXPECT_TRUE(result.ok()) << result.status().ToString();
  return result.ok() ? *std::move(result) : GltfImport();
}

// roots: nodes the scene lists; more than one means that assimp adds a node above them.
void ExpectAssimpsCounts(const char* path, int roots) {
  const std::string info = Run(std::string("assimp info ") + path + " -r 2>&1");
  const GltfCounts counts = Import(path).counts;
  EXPECT_EQ(counts.nodes + (roots > 1), AssimpCount(info, "Nodes")) << info;
  EXPECT_EQ(counts.primitives, AssimpCount(info, "Meshes"));
  EXPECT_EQ(counts.cameras, AssimpCount(info, "Cameras"));
  EXPECT_EQ(counts.animations, AssimpCount(info, "Animations"));
}

TEST(ImportTestModels, EngineHasAssimpsCounts) { ExpectAssimpsCounts(kEngine, 2); }
TEST(ImportTestModels, CamerasHaveAssimpsCounts) { ExpectAssimpsCounts(kCameras, 3); }
TEST(ImportTestModels, AnimatedSkinHasAssimpsCounts) { ExpectAssimpsCounts(kAnimated, 1); }

// World matrices by node name, from assimp's text dump: nested <Node name="..."> with <Matrix4> of four rows.
std::map<std::string, import::Matrix> AssimpPlaces(const char* path) {
  const std::string dump = testing::TempDir() + "import_test_dump.assxml";
  Run(std::string("assimp dump ") + path + " " + dump + " 2>&1");
  std::map<std::string, import::Matrix> places;
  std::vector<std::pair<std::string, import::Matrix>> open;
  std::ifstream stream(dump);
  std::string line;
  while (std::getline(stream, line)) {
    if (const size_t at = line.find("<Node name=\""); at != std::string::npos) {
      const size_t name = at + 12;
      open.push_back({line.substr(name, line.find('"', name) - name), import::kIdentity});
    } else if (line.find("<Matrix4>") != std::string::npos && !open.empty()) {
      import::Matrix local;
      for (int row = 0; row < 4 && std::getline(stream, line); ++row) {
        std::istringstream numbers(line);
        for (int column = 0; column < 4; ++column) numbers >> local[4 * column + row];
      }
      import::Matrix& world = open.back().second;
      world = open.size() < 2 ? local : import::Multiply(open[open.size() - 2].second, local);
      places.emplace(open.back().first, world);
    } else if (line.find("</Node>") != std::string::npos) {
      open.pop_back();
    }
  }
  std::filesystem::remove(dump);
  return places;
}

// "node_0/node_7" -> "nodes[7]".
std::string AssimpName(const std::string& id) {
  const size_t last = id.rfind("node_");
  return last == std::string::npos ? id : "nodes[" + id.substr(last + 5) + "]";
}

TEST(ImportTestModels, EveryPartOfTheEngineStandsWhereAssimpPutsIt) {
  const auto places = AssimpPlaces(kEngine);
  const GltfImport got = Import(kEngine);
  ASSERT_EQ(got.shot.objects_size(), 67);
  for (const v1::SceneObject& object : got.shot.objects()) {
    const auto place = places.find(AssimpName(object.id()));
    ASSERT_NE(place, places.end()) << object.id();
    ASSERT_EQ(object.transform().matrices_size(), 16);
    // Six decimals a matrix, up to seven matrices deep, lever arms of about 500: 7 * 500 * 5e-7 = 2e-3; assimp computes
    // in float, 6e-8 of 1000 a step, which is less.
    for (int k = 0; k < 16; ++k) EXPECT_NEAR(object.transform().matrices(k), place->second[k], 2e-3) << object.id();
  }
}

TEST(ImportTestModels, BothKindsOfCameraAreRead) {
  const GltfImport got = Import(kCameras);
  ASSERT_EQ(got.cameras.size(), 2u);
  EXPECT_TRUE(got.cameras[0].perspective);
  EXPECT_FALSE(got.cameras[1].perspective);
  const auto listed = ListGltfCameras(kCameras);
  ASSERT_TRUE(listed.ok());
  EXPECT_EQ(listed->size(), 2u);
  EXPECT_EQ((*listed)[1].name, "camera_2");
  EXPECT_EQ(got.shot.shot_id(), "Cameras");
}

// Its keys run from 0 to 5.5 s and turn only a joint; the skinned mesh hangs above it and stays.
TEST(ImportTestModels, AnimatedSkinLastsAsLongAsItsKeys) {
  const GltfImport got = Import(kAnimated);
  EXPECT_EQ(got.shot.frames().last(), 1 + 132);  // 5.5 s at 24 a second
  EXPECT_EQ(got.shot.objects(0).transform().matrices_size(), 16);
  EXPECT_THAT(got.warnings, testing::Contains("1 skinned nodes: boxes are those of the rest pose"));
}

TEST(ImportTestModels, BrokenOnesAreRefusedByName) {
  const std::string models = SCANTLING_MODELS;
  const auto message = [&models](const char* file) {
    return std::string(ImportGltf(models + file, {}).status().message().data());
  };
  using testing::HasSubstr;
  EXPECT_THAT(message("/MissingBin/BoxTextured.gltf"),
              HasSubstr("buffers[0].uri: got 'BoxTextured0.bin', want a file that exists beside the glTF file"));
  EXPECT_THAT(message("/RecursiveNodes/RecursiveNodes.gltf"), HasSubstr("got nodes[0], a child of nodes[1]"));
  EXPECT_THAT(message("/wrongTypes/badArray.gltf"), HasSubstr("meshes[0].primitives: got an object, want an array"));
  EXPECT_THAT(message("/SchemaFailures/sceneWrongType.gltf"), HasSubstr("scene: got a string, want an index"));
  EXPECT_THAT(message("/BoxWithInfinites-glTF-Binary/BoxWithInfinites.glb"), HasSubstr("number that is not finite"));
}

}  // namespace
}  // namespace scantling
