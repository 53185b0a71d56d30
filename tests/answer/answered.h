// A small shot taken through choice, a given or solved pick, and the answer.

#ifndef SCANTLING_TESTS_ANSWER_ANSWERED_H_
#define SCANTLING_TESTS_ANSWER_ANSWERED_H_

#include <gtest/gtest.h>

#include <array>
#include <memory>
#include <optional>
#include <string_view>

#include "server/answer/answer.h"
#include "tests/choice/small_shot.h"

namespace scantling::testing {

class Answered {
 public:
  explicit Answered(SmallShot shot, Budgets budgets = {}) : shot_(std::move(shot)), budgets_(budgets) {
    Violations violations;
    absl::StatusOr<Choice> choice =
        BuildChoice({shot_.scene, shot_.legibility, shot_.costs, shot_.policy, shot_.style}, violations);
    EXPECT_TRUE(choice.ok()) << choice.status();
    EXPECT_TRUE(violations.empty());
    choice_ = *std::move(choice);
    const Stop stop;
    unseen_.fill(*budget::Solve(choice_.problem, {}, stop));
    if (budgets.anim_hours) choice_.problem.capacity[kAnimHours] = HoursQuanta(*budgets.anim_hours);
    if (budgets.core_hours) choice_.problem.capacity[kCoreHours] = HoursQuanta(*budgets.core_hours);
    absl::StatusOr<budget::Solution> solved = budget::Solve(choice_.problem, {}, stop);
    EXPECT_TRUE(solved.ok()) << solved.status();
    solution_ = *std::move(solved);
    plan_ = AnswerOf(input());
  }

  AnswerInput input() const {
    return {shot_.scene, shot_.legibility, shot_.holds, shot_.costs, choice_,  shot_.policy,
            shot_.style, budgets_,         solution_,   unseen_,     findings_};
  }
  const Plan& plan() const { return plan_; }
  const Decision& of(std::string_view id) const {
    for (const Decision& decision : plan_.decisions) {
      if (shot_.scene.objects.id[decision.object] == id) return decision;
    }
    ADD_FAILURE() << "no object " << id;
    return plan_.decisions.front();
  }

 private:
  SmallShot shot_;
  Budgets budgets_;
  Choice choice_;
  std::array<budget::Solution, kPhiScales> unseen_;
  budget::Solution solution_;
  PlanFindings findings_;
  Plan plan_;
};

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_ANSWER_ANSWERED_H_
