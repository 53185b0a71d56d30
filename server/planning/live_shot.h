// A shot that changes: what is known of it is kept, and brought up to date after every change by measuring again only
// what the change touches and solving from what was solved before.
//
//   TakeScene*  ->  LookAt (a first look)  ->  Measure  ->  Settle  ->  Finish
//
// Exactness. After Measure everything measured is, byte for byte, what PlanShot measures of the same scene. Settle's
// holds, costs and choice follow from that alone; its decisions are PlanShot's too in unseen mode, and with a budget
// where nothing warm was of use; Settle says so. Finish solves from scratch: always PlanShot's plan.
//
// Stopping. Steps may be stopped: at 100,000 objects measuring and settling without a budget end within 15 ms, with one
// within some 40, finishing within some 100. What was measured by then is not lost, and the shot may be changed and the
// steps taken again. Not thread-safe.

#ifndef SCANTLING_SERVER_PLANNING_LIVE_SHOT_H_
#define SCANTLING_SERVER_PLANNING_LIVE_SHOT_H_

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "server/budget/warm.h"
#include "server/planning/depth_maps.h"
#include "server/planning/plan_shot.h"
#include "server/scene/builder.h"

namespace scantling {

// A first look at one object.
struct QuickLook {
  uint32_t row = 0;
  Tier tier = Tier::kFullRig;
  bool seen = false;
  bool whole_shot = false;  // measured in every frame; else the current frame alone
};

// What the plan's hours would change by, roughly.
struct RoughHoursChange {
  double anim_hours = 0, core_hours = 0;
};

class LiveShot {
 public:
  // `policy` must outlive it. At most so many bytes of depth maps are kept.
  LiveShot(const Policy& policy, size_t most_map_bytes);
  ~LiveShot();
  LiveShot(const LiveShot&) = delete;
  LiveShot& operator=(const LiveShot&) = delete;

  // What is known, in a shot that may be changed on its own: for a what-if. Poses are shared; depth maps and what was
  // solved stay behind. O(objects).
  std::unique_ptr<LiveShot> Copy() const;

  // ---- Changing

  // Takes in a scene merged onto scene(), and the style it is seen in (one of the policy's). O(objects).
  void TakeScene(MergedScene merged, const Style& style);

  const Scene& scene() const { return shot_.scene; }

  // ---- Measuring

  bool measured() const { return !everything_ && !hiding_ && stale_count_ == 0; }
  bool everything_is_stale() const { return everything_; }  // cameras, frames, style: nothing measured stands
  bool hiding_is_stale() const { return hiding_; }
  std::vector<uint32_t> StaleRows() const;  // to be measured again for their own sake, rising

  // Brings everything measured up to date. CANCELLED or DEADLINE_EXCEEDED where stopped before.
  absl::Status Measure(int threads, const Stop& stop, const ProgressSink& progress);

  // What reading in full takes in one frame: of all objects where everything or hiding is stale, else of the stale
  // ones; only those of which that is another tier than the last plan's. Where stopped, of some.
  std::vector<QuickLook> LookAtFrame(int32_t frame_index, int threads, const Stop& stop) const;

  // A first look at some measured rows by their losses over the shot, the last plan's prices, and the last known or
  // rough costs. Adds to `change` what the plan's hours would change by.
  std::vector<QuickLook> LookAtMeasured(const std::vector<uint32_t>& rows, RoughHoursChange& change) const;

  // ---- Planning; wants measured()

  // Plans with what is known. True: the plan is PlanShot's. Errors as PlanShot's; there is then no plan.
  absl::StatusOr<bool> Settle(const PlanRequest& request, const Stop& stop, PlanFaults& faults);

  // Plans from scratch: PlanShot's plan, whatever was planned before. Errors as PlanShot's; there is then no plan.
  absl::Status Finish(const PlanRequest& request, const Stop& stop, PlanFaults& faults);

  // All of the last plan, after a Settle or Finish that succeeded and until the next change.
  const PlannedShot& shot() const { return shot_; }

  // Per row: 1 where it was sent or measured again since this was asked last.
  std::vector<uint8_t> TakeRemeasured();

  // Memory that a live shot of a scene will hold at most, an estimate from the sizes of what is large: depth maps, of
  // which it keeps so many bytes, poses, columns.
  static size_t BytesFor(const Scene& scene, size_t most_map_bytes);

 private:
  struct Solved;

  void MarkStale(const std::vector<uint8_t>& rows);
  void ForgetMeasured();
  absl::Status FindHidingChanges(int threads, const Stop& stop);
  void MeasureRows(const std::vector<uint32_t>& rows, int threads, const Stop& stop, const ProgressSink& progress);
  Tier LastTier(uint32_t row) const;
  bool HasLast(uint32_t row) const;
  void Retire();
  std::vector<uint8_t> ChangedNodes(const std::vector<int32_t>& was) const;
  absl::Status Plan(const PlanRequest& request, const Stop& stop, PlanFaults& faults, bool warm);

  const Policy& policy_;
  PlannedShot shot_;
  DepthMaps maps_;  // those that what is measured was measured with
  bool everything_ = true, hiding_ = false;
  std::vector<uint8_t> stale_;  // per row
  size_t stale_count_ = 0;
  std::vector<uint8_t> remeasured_;  // per row, see TakeRemeasured
  std::unique_ptr<Solved> solved_;
  bool used_warm_ = false;
  double measured_ms_ = 0;  // since the last plan
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_PLANNING_LIVE_SHOT_H_
