// Assets are dealt with the square of an even draw, so that the first ones get most nodes, as crowds do.
//
// A fixed cost is a share of what all its users' rows cost at the level, so that for about as many assets it pays as it
// does not. In LP format every link is a row of its own (a user's levels of the mask, less y, at most 0): the
// programme's relaxation is then as strong as links can make it.

#include "tests/budget/fixed_instances.h"

#include <stdlib.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "absl/strings/str_cat.h"
#include "absl/strings/str_replace.h"
#include "tests/budget/problems.h"

namespace scantling::budget {
namespace {

// One fixed cost for some levels, a share of what the users' rows cost at `level`.
FixedCost CostFor(const Problem& problem, const std::vector<int32_t>& users, uint8_t levels, int level, int percent,
                  Draw* draw) {
  FixedCost fixed;
  fixed.cost.assign(problem.resources, 0);
  for (const int32_t node : users) fixed.users.push_back({node, levels});
  for (int k = 0; k < problem.resources; ++k) {
    int64_t rows = 0;
    for (const int32_t node : users) {
      rows += problem.cost[(int64_t{node} * kLevels + level) * problem.resources + k];
    }
    fixed.cost[k] = rows * draw->Between(percent / 2, percent + percent / 2) / 100;
  }
  return fixed;
}

// Rows with one more resource at the end, which they do not use.
void AddResource(Problem* problem) {
  std::vector<int64_t> cost;
  for (size_t row = 0; row < problem->loss.size(); ++row) {
    for (int k = 0; k < problem->resources; ++k) cost.push_back(problem->cost[row * problem->resources + k]);
    cost.push_back(0);
  }
  problem->cost = std::move(cost);
  problem->resources += 1;
  problem->money.push_back(0);
  problem->capacity.push_back(0);
}

std::string Binary(int64_t node, int level) { return absl::StrCat("x", node, "_", level); }

}  // namespace

Problem MakeFixedInstance(const FixedShape& shape, uint64_t seed) {
  Problem problem = MakeInstance(shape.base, seed);
  Draw draw(seed + 77);
  if (shape.memory) AddResource(&problem);
  std::vector<std::vector<int32_t>> users(shape.assets);
  for (int32_t i = 0; i < problem.size(); ++i) {
    const int64_t even = draw.Below(1'000'000);
    users[shape.assets * even / 1'000'000 * even / 1'000'000].push_back(i);
  }
  int64_t memory = 0;
  for (const std::vector<int32_t>& asset : users) {
    if (asset.empty()) continue;
    if (shape.rigs) {
      problem.fixed.push_back(CostFor(problem, asset, 0b1000, 3, shape.fixed_percent, &draw));
      problem.fixed.push_back(CostFor(problem, asset, 0b0100, 2, shape.fixed_percent, &draw));
    }
    if (shape.cycles) {
      problem.fixed.push_back(CostFor(problem, asset, 0b1100, 2, shape.fixed_percent, &draw));
      for (int k = 1; k < problem.resources; ++k) problem.fixed.back().cost[k] = 0;
    }
    for (int level = 3; shape.memory && level > 0; --level) {
      FixedCost fixed = CostFor(problem, asset, static_cast<uint8_t>(1 << level), level, 0, &draw);
      fixed.cost.back() = draw.Between(100, 900) * (level == 3 ? 20 : level == 2 ? 5 : 1);
      if (level == 3) memory += fixed.cost.back();
      problem.fixed.push_back(std::move(fixed));
    }
    if (draw.Below(100) >= shape.floor_percent) continue;
    for (const int32_t node : asset) {
      for (int32_t at = node; at >= 0; at = problem.parent[at]) problem.allowed[at] = 0b1100;
    }
  }
  if (shape.memory) problem.capacity.back() = memory * shape.base.percent / 100;
  return problem;
}

std::string FixedToLpFormat(const Problem& problem) {
  std::string text = ToLpFormat(problem);
  std::ostringstream links, binaries;
  for (int k = 0; k < problem.resources; ++k) {
    std::ostringstream row;
    row << "r" << k << ":\n";
    for (size_t a = 0; a < problem.fixed.size(); ++a) {
      if (problem.fixed[a].cost[k] > 0) row << " + " << problem.fixed[a].cost[k] << " y" << a << "\n";
    }
    absl::StrReplaceAll({{absl::StrCat("r", k, ":\n"), row.str()}}, &text);
  }
  for (size_t a = 0; a < problem.fixed.size(); ++a) {
    for (const FixedCost::User& user : problem.fixed[a].users) {
      const int levels = user.levels & problem.allowed[user.node];
      for (int level = 0; level < kLevels; ++level) {
        if ((levels >> level) & 1) links << " + " << Binary(user.node, level);
      }
      if (levels != 0) links << " - y" << a << " <= 0\n";
    }
    binaries << " y" << a << "\n";
  }
  absl::StrReplaceAll({{"Binary\n", absl::StrCat(links.str(), "Binary\n", binaries.str())}}, &text);
  return text;
}

CbcAnswer RunCbcWithFixedCosts(const Problem& problem, double gap, int cap_s) {
  CbcAnswer answer;
  std::string pattern = (std::filesystem::temp_directory_path() / "budget_cbc_XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) return answer;
  const std::filesystem::path folder = pattern;
  std::ofstream(folder / "problem.lp") << FixedToLpFormat(problem);
  std::ostringstream command;
  command << "cd '" << folder.string() << "' && cbc problem.lp ratio " << gap << " sec " << cap_s
          << " solve solution answer.txt > log.txt 2>&1";
  const auto start = std::chrono::steady_clock::now();
  const int code = std::system(command.str().c_str());
  answer.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  std::ifstream file(folder / "answer.txt");
  std::string first;
  // First line: "Optimal - objective value 123.00000000", or "Stopped on time - objective value ...".
  if (code == 0 && std::getline(file, first)) {
    const size_t at = first.find("objective value ");
    answer.ran = at != std::string::npos;
    if (answer.ran) answer.objective = std::strtod(first.c_str() + at + 16, nullptr);
    answer.optimal = first.rfind("Optimal", 0) == 0;
  }
  std::filesystem::remove_all(folder);
  return answer;
}

}  // namespace scantling::budget
