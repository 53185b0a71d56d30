// Generators, and the way to and from CBC and GLPK.
//
// A node's level is one binary each, exactly one set. A container's level binds its children through two rows per
// child: a child above 1 needs its parent above 1, a child above 0 needs its parent above 0.

#include "tests/budget/instances.h"

#include <stdlib.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "absl/strings/str_cat.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

constexpr int64_t kRange = 100'000;  // R

int64_t ProfitOf(Correlation correlation, const std::vector<int64_t>& weight, Draw* draw) {
  int64_t mean = 0;
  for (const int64_t w : weight) mean += w;
  mean /= static_cast<int64_t>(weight.size());
  switch (correlation) {
    case Correlation::kNone:
      return draw->Between(1, kRange);
    case Correlation::kWeak:
      return std::max<int64_t>(1, draw->Between(mean - kRange / 10, mean + kRange / 10));
    case Correlation::kStrong:
      return mean + kRange / 10;
  }
  return 0;
}

std::string Binary(int64_t node, int level) { return absl::StrCat("x", node, "_", level); }

void WriteTerms(std::ostream& out, const Problem& problem, const std::vector<int64_t>& figures, int step, int offset) {
  bool any = false;
  for (int64_t i = 0; i < problem.size(); ++i) {
    for (int level = 0; level < kLevels; ++level) {
      const int64_t figure = figures[(i * kLevels + level) * step + offset];
      if (((problem.allowed[i] >> level) & 1) == 0 || figure == 0) continue;
      out << " + " << figure << " " << Binary(i, level) << "\n";
      any = true;
    }
  }
  if (!any) out << " 0 " << Binary(0, std::countr_zero(unsigned{problem.allowed[0]})) << "\n";
}

// A row "sum of the node's levels from `least` up, less the parent's, <= 0".
void WriteLink(std::ostream& out, const Problem& problem, int64_t node, int least) {
  std::ostringstream row;
  for (int level = least; level < kLevels; ++level) {
    if ((problem.allowed[node] >> level) & 1) row << " + " << Binary(node, level);
  }
  if (row.str().empty()) return;
  for (int level = least; level < kLevels; ++level) {
    if ((problem.allowed[problem.parent[node]] >> level) & 1) row << " - " << Binary(problem.parent[node], level);
  }
  out << row.str() << " <= 0\n";
}

}  // namespace

Problem MakeInstance(const InstanceShape& shape, uint64_t seed) {
  Draw draw(seed);
  Problem problem;
  problem.resources = shape.resources;
  problem.money.assign(shape.resources, 1);
  std::vector<int64_t> full(shape.resources, 0);
  const int64_t containers = shape.forest ? std::max<int64_t>(1, shape.nodes / 100) : 0;
  for (int64_t i = 0; i < shape.nodes; ++i) {
    const bool inside = i >= containers && shape.forest && draw.Below(100) < 30;
    problem.parent.push_back(inside ? static_cast<int32_t>(draw.Below(containers)) : -1);
    problem.allowed.push_back(15);
    problem.tie.push_back(draw.Next());
    std::vector<int64_t> weight(shape.resources);
    for (int64_t& w : weight) w = draw.Between(1, kRange);
    const int64_t profit = ProfitOf(shape.correlation, weight, &draw);
    const bool fixed = shape.correlation == Correlation::kStrong;
    const int64_t cost1 = fixed ? 50 : draw.Between(20, 80), cost2 = fixed ? 350 : draw.Between(200, 500);
    const int64_t loss1 = fixed ? 450 : draw.Between(300, 600), loss2 = fixed ? 125 : draw.Between(50, 200);
    for (const int64_t part : {int64_t{1000}, loss1, loss2, int64_t{0}}) problem.loss.push_back(profit * part / 1000);
    for (const int64_t part : {int64_t{0}, cost1, cost2, int64_t{1000}}) {
      for (const int64_t w : weight) problem.cost.push_back(w * part / 1000);
    }
    for (int k = 0; k < shape.resources; ++k) full[k] += weight[k];
  }
  for (const int64_t use : full) problem.capacity.push_back(use / 100 * shape.percent);
  return problem;
}

namespace {

struct Asset {
  int64_t loss[kLevels];
  int64_t cost[kLevels][2];
};

Asset DrawAsset(Draw* draw) {
  const int64_t whole = draw->Between(20'000, 200'000), hours = draw->Between(2'000, 40'000),
                core = draw->Between(500, 60'000);
  Asset asset = {{whole, whole * draw->Between(30, 60) / 100, whole * draw->Between(5, 20) / 100, 0}, {}};
  const int64_t part1 = draw->Between(1, 8), part2 = draw->Between(20, 50);
  const int64_t parts[kLevels] = {0, part1, part2, 100};
  for (int level = 0; level < kLevels; ++level) {
    asset.cost[level][0] = hours * parts[level] / 100;
    asset.cost[level][1] = core * (level < 3 ? parts[level] / 2 : 100) / 100;
  }
  return asset;
}

void AppendCopy(const Asset& asset, int64_t thousandths, bool counted, const CopiesShape& shape, Problem* problem) {
  for (const int64_t loss : asset.loss) problem->loss.push_back(loss * thousandths / 1000);
  for (int level = 0; level < kLevels; ++level) {
    problem->cost.insert(problem->cost.end(), asset.cost[level], asset.cost[level] + 2);
    if (shape.keep_share) problem->cost.push_back(counted && level == 0 ? 1 : 0);
  }
}

}  // namespace

Problem MakeCopies(const CopiesShape& shape, uint64_t seed) {
  Draw draw(seed);
  std::vector<Asset> assets;
  for (int a = 0; a < shape.assets; ++a) assets.push_back(DrawAsset(&draw));
  const Asset container = {{3'000, 1'500, 300, 0}, {{0, 0}, {200, 0}, {300, 150}, {400, 300}}};
  Problem problem;
  problem.resources = shape.keep_share ? 3 : 2;
  problem.capacity.resize(problem.resources);
  problem.money.assign(problem.resources, 1);
  const int64_t containers = shape.per_container > 0 ? shape.nodes / (shape.per_container + 1) : 0;
  int64_t members = 0;
  for (int64_t i = 0; i < shape.nodes; ++i) {
    const bool inside = i >= containers && containers > 0;
    problem.parent.push_back(inside ? static_cast<int32_t>(draw.Below(containers)) : -1);
    problem.tie.push_back(draw.Next());
    problem.allowed.push_back(15);
    const int64_t asset = draw.Below(shape.assets);
    const int64_t wide = draw.Below(8) == 0 ? draw.Between(1000, 4000) : 1000;
    const bool member = i >= containers && asset == 0;
    if (member) ++members;
    AppendCopy(i < containers ? container : assets[asset], draw.Between(970, 1030) * wide / 1000, member, shape,
               &problem);
    if (i < containers || draw.Below(100) >= shape.floor_percent) continue;
    problem.allowed[i] = 0b1110;
    if (inside) problem.allowed[problem.parent[i]] = 0b1110;
  }
  SetCapacities(&problem, shape.percent);
  if (shape.keep_share) problem.capacity[2] = members / 10;
  return problem;
}

std::string Name(const InstanceShape& shape) {
  constexpr const char* kNames[] = {"uncorrelated", "weak", "strong"};
  return absl::StrCat(kNames[static_cast<int>(shape.correlation)], shape.forest ? " forest" : " flat");
}

std::string ToLpFormat(const Problem& problem) {
  std::ostringstream out;
  out << "Minimize\nobj:\n";
  WriteTerms(out, problem, problem.loss, 1, 0);
  out << "Subject To\n";
  for (int k = 0; k < problem.resources; ++k) {
    if (!problem.capacity[k]) continue;
    out << "r" << k << ":\n";
    WriteTerms(out, problem, problem.cost, problem.resources, k);
    out << " <= " << *problem.capacity[k] << "\n";
  }
  for (int64_t i = 0; i < problem.size(); ++i) {
    for (int level = 0; level < kLevels; ++level) {
      if ((problem.allowed[i] >> level) & 1) out << " + " << Binary(i, level);
    }
    out << " = 1\n";
    if (problem.parent[i] < 0) continue;
    WriteLink(out, problem, i, 1);
    WriteLink(out, problem, i, 2);
  }
  out << "Binary\n";
  for (int64_t i = 0; i < problem.size(); ++i) {
    for (int level = 0; level < kLevels; ++level) {
      if ((problem.allowed[i] >> level) & 1) out << " " << Binary(i, level) << "\n";
    }
  }
  out << "End\n";
  return out.str();
}

namespace {

// Writes the programme, runs `command` beside it, lets `read` look at what it left.
template <typename Read>
OtherAnswer RunOther(const Problem& problem, const std::string& command, Read read) {
  OtherAnswer answer;
  std::string pattern = (std::filesystem::temp_directory_path() / "budget_lp_XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) return answer;
  const std::filesystem::path folder = pattern;
  std::ofstream(folder / "problem.lp") << ToLpFormat(problem);
  const std::string in_folder = absl::StrCat("cd '", folder.string(), "' && ", command, " > log.txt 2>&1");
  const auto start = std::chrono::steady_clock::now();
  const int code = std::system(in_folder.c_str());
  answer.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  std::ifstream file(folder / "answer.txt");
  if (code == 0) read(file, &answer);
  std::filesystem::remove_all(folder);
  return answer;
}

}  // namespace

OtherAnswer RunCbc(const Problem& problem, double gap, int cap_s) {
  const std::string command = absl::StrCat("cbc problem.lp ratio ", gap, " sec ", cap_s, " solve solution answer.txt");
  // First line: "Optimal - objective value 123.00000000", or "Stopped on time - objective value ...". Stopped before
  // it has a plan, CBC writes the relaxed one, and says "no integer solution".
  return RunOther(problem, command, [](std::ifstream& file, OtherAnswer* answer) {
    std::string first;
    if (!std::getline(file, first)) return;
    const size_t at = first.find("objective value ");
    answer->ran = at != std::string::npos && first.find("no integer solution") == std::string::npos;
    if (answer->ran) answer->objective = std::strtod(first.c_str() + at + 16, nullptr);
    answer->optimal = first.rfind("Optimal", 0) == 0;
  });
}

OtherAnswer RunGlpk(const Problem& problem, double gap, int cap_s) {
  const std::string command =
      absl::StrCat("glpsol --lp problem.lp --mipgap ", gap, " --tmlim ", cap_s, " -w answer.txt");
  // A line "s mip ROWS COLUMNS STATUS OBJECTIVE"; status o: the gap is met, f: a plan.
  return RunOther(problem, command, [](std::ifstream& file, OtherAnswer* answer) {
    for (std::string line; std::getline(file, line);) {
      std::istringstream words(line);
      std::string s, mip, rows, columns, status;
      if (!(words >> s >> mip >> rows >> columns >> status >> answer->objective) || s != "s" || mip != "mip") continue;
      answer->ran = status == "o" || status == "f";
      answer->optimal = status == "o";
    }
  });
}

}  // namespace scantling::budget
