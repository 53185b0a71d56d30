// Reads every include of the sources and holds them to the dependency rule of DEVELOPERS.md: which folder may include
// which, where generated headers and outside libraries may stand, and how long a file may be.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;
using Folders = std::set<std::string>;

const fs::path kRoot = SCANTLING_SOURCE_DIR;

// A stage may include the stages upstream of it; everything may use units and policy's plain structs (policy/types.h).
const std::map<std::string, Folders> kMayInclude = {
    {"units", {}},
    {"policy", {}},
    {"scene", {}},
    {"view", {"scene"}},
    {"legibility", {"scene", "view"}},
    {"costing", {"scene", "view", "legibility"}},
    {"budget", {}},
    {"choice", {"scene", "view", "legibility", "costing", "budget"}},
    {"answer", {"scene", "view", "legibility", "costing", "choice", "budget"}},
    {"planning", {"scene", "view", "legibility", "costing", "choice", "budget", "answer"}},
    {"session", {"scene", "planning"}},
    {"rpc", {"scene", "view", "legibility", "costing", "choice", "budget", "answer", "planning", "session", "policy"}},
    {"daemon", {"rpc", "policy", "planning"}},
};

const Folders kStages = {"scene", "view", "legibility", "costing", "choice", "budget", "answer"};

std::vector<fs::path> Sources(const fs::path& below) {
  std::vector<fs::path> found;
  for (const fs::directory_entry& entry : fs::recursive_directory_iterator(below)) {
    const std::string extension = entry.path().extension();
    if (extension == ".cc" || extension == ".h") found.push_back(entry.path());
  }
  return found;
}

struct Include {
  std::string file;  // of the including source, relative to the root
  std::string target;
};

std::vector<Include> IncludesBelow(const fs::path& below) {
  std::vector<Include> includes;
  for (const fs::path& source : Sources(below)) {
    std::ifstream stream(source);
    for (std::string line; std::getline(stream, line);) {
      if (line.rfind("#include", 0) != 0) continue;
      const size_t open = line.find_first_of("\"<", 8);
      const size_t close = line.find_first_of("\">", open + 1);
      if (open == std::string::npos || close == std::string::npos) continue;
      includes.push_back({fs::relative(source, kRoot).string(), line.substr(open + 1, close - open - 1)});
    }
  }
  return includes;
}

// "server/view/clip.h" -> "view"; empty for what is not below server/.
std::string ServerFolder(const std::string& path) {
  if (path.rfind("server/", 0) != 0) return "";
  const size_t slash = path.find('/', 7);
  return slash == std::string::npos ? "" : path.substr(7, slash - 7);
}

bool StartsWithAny(const std::string& text, const std::vector<std::string>& prefixes) {
  for (const std::string& prefix : prefixes) {
    if (text.rfind(prefix, 0) == 0) return true;
  }
  return false;
}

TEST(Layers, EveryFolderIncludesOnlyWhatItMay) {
  const std::vector<Include> includes = IncludesBelow(kRoot / "server");
  ASSERT_GT(includes.size(), 100u);
  for (const Include& include : includes) {
    const std::string from = ServerFolder(include.file);
    const std::string to = ServerFolder(include.target);
    if (from.empty() || to.empty() || from == to || to == "units") continue;  // main.cc may include everything
    if (include.target == "server/policy/types.h") continue;
    ASSERT_TRUE(kMayInclude.count(from)) << "no rule for the folder of " << include.file;
    EXPECT_TRUE(kMayInclude.at(from).count(to)) << include.file << " includes " << include.target;
  }
}

TEST(Layers, StagesKnowNoTransportNoLoggingAndNoYaml) {
  const std::vector<std::string> outside = {"grpc", "google/", "scantling/v1/", "spdlog", "yaml-cpp"};
  for (const std::string& stage : kStages) {
    for (const Include& include : IncludesBelow(kRoot / "server" / stage)) {
      EXPECT_FALSE(StartsWithAny(include.target, outside)) << include.file << " includes " << include.target;
    }
  }
}

TEST(Layers, StagesDoNoInputOrOutput) {
  const Folders io = {"iostream", "fstream", "cstdio", "filesystem", "unistd.h"};
  for (const std::string& stage : kStages) {
    for (const Include& include : IncludesBelow(kRoot / "server" / stage)) {
      EXPECT_FALSE(io.count(include.target)) << include.file << " includes " << include.target;
    }
  }
}

TEST(Layers, OnlyPolicyReadsYaml) {
  for (const Include& include : IncludesBelow(kRoot / "server")) {
    if (ServerFolder(include.file) == "policy") continue;
    EXPECT_FALSE(StartsWithAny(include.target, {"yaml-cpp"})) << include.file << " includes " << include.target;
  }
}

TEST(Layers, GeneratedHeadersStayAtTheBorder) {
  for (const Include& include : IncludesBelow(kRoot / "server")) {
    if (!StartsWithAny(include.target, {"scantling/v1/", "google/rpc/"})) continue;
    EXPECT_THAT(ServerFolder(include.file), testing::AnyOf("rpc", ""))
        << include.file << " includes " << include.target;
  }
}

TEST(Layers, ClientsNeverIncludeTheServer) {
  for (const Include& include : IncludesBelow(kRoot / "client")) {
    EXPECT_FALSE(StartsWithAny(include.target, {"server/"})) << include.file << " includes " << include.target;
  }
}

TEST(Layers, NoSourceIsLongerThan600Lines) {
  for (const char* top : {"server", "client", "tests"}) {
    for (const fs::path& source : Sources(kRoot / top)) {
      std::ifstream stream(source);
      size_t lines = 0;
      for (std::string line; std::getline(stream, line);) ++lines;
      EXPECT_LE(lines, 600u) << source;
    }
  }
}

}  // namespace
