// The plan of a shot that is assembled live, put together from the daemon's updates.

#ifndef SCANTLING_CLIENT_LIBRARY_LIVE_STATE_H_
#define SCANTLING_CLIENT_LIBRARY_LIVE_STATE_H_

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "scantling/v1/assembly.pb.h"

namespace scantling::client {

using DecisionPtr = std::shared_ptr<const v1::Decision>;

// What became of one object.
struct LiveChange {
  std::string object_id;
  DecisionPtr before;  // null: it was not in the plan
  DecisionPtr after;   // null: it is not in it any more
};

// Not thread-safe.
class LivePlan {
 public:
  enum class Taken {
    kPart,         // further messages of the update follow; nothing is known yet
    kProvisional,  // a first look; the plan stands as it was
    kPlan,         // settled or final
    kProblem,      // there is no plan of this revision; the one before stands
  };

  // Takes in one message of an update. O(decisions log objects).
  Taken Take(v1::Update part);

  // The stream broke: an update that has not come whole is dropped.
  void DropPartial() { partial_.reset(); }

  // Another session begins: what is known stands until its first update, which brings everything.
  void BeginAnew();

  // The last update that came whole, without its decisions; provisional ones with their quick decisions.
  const v1::Update& last() const { return last_; }

  int64_t number() const { return number_; }      // of the last update taken in whole, for Resume; 0: none
  int64_t revision() const { return revision_; }  // that the plan, or the problem in its stead, answers
  bool has_plan() const { return has_plan_; }
  // Whether the plan is what PlanShot would answer for that revision, and no later one was heard of.
  bool is_final() const { return is_final_; }

  DecisionPtr Find(const std::string& object_id) const;
  const v1::Plan& summary() const { return summary_; }  // without decisions
  const std::map<std::string, DecisionPtr>& decisions() const { return decisions_; }
  v1::Plan plan() const;  // with them, by object id, bytewise

  // What differs from when this was last asked, by object id; changes taken back meanwhile are none.
  std::vector<LiveChange> TakeChanges();

 private:
  void Forget();
  void Set(const std::string& object_id, DecisionPtr decision);
  Taken TakeWhole(v1::Update update);

  std::map<std::string, DecisionPtr> decisions_;
  std::map<std::string, DecisionPtr> touched_;  // as it was when changes were last taken
  std::optional<v1::Update> partial_;
  v1::Update last_;
  v1::Plan summary_;
  int64_t number_ = 0, revision_ = 0;
  bool has_plan_ = false, is_final_ = false, forget_first_ = false;
};

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_LIBRARY_LIVE_STATE_H_
