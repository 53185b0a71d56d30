// Proto <-> domain. Reading checks what the domain types cannot hold (missing messages, enums without a value, colours
// beyond 255); everything else is checked by the scene builder, under the same field paths. Nothing here logs or
// throws. All functions are thread-safe on different arguments.

#ifndef SCANTLING_SERVER_RPC_CONVERT_H_
#define SCANTLING_SERVER_RPC_CONVERT_H_

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "absl/status/status.h"
#include "grpcpp/support/status.h"
#include "scantling/v1/plan.pb.h"
#include "scantling/v1/scene.pb.h"
#include "scantling/v1/shot_planner.pb.h"
#include "server/answer/answer.h"
#include "server/planning/plan_shot.h"
#include "server/policy/types.h"
#include "server/scene/builder.h"
#include "server/units/violations.h"

namespace scantling {

// ---- A shot, read (convert_header.cc, convert_objects.cc)

// All of a shot but points of interest, rows and blocks. Field paths as in v1.Shot ("cameras[0].focal_mm[2]").
ShotHeader HeaderFromProto(const v1::Shot& shot, Violations& violations);

void AddInterests(const v1::Shot& shot, SceneBuilder& builder, Violations& violations);

// Reads rows into one builder. Buffers are kept from row to row, so a row costs no allocation of its own. Not
// thread-safe.
class RowReader {
 public:
  RowReader(SceneBuilder& builder, Violations& violations) : builder_(builder), violations_(violations) {}

  // `path`: of the row ("objects[3]").
  void Add(const v1::SceneObject& object, const std::string& path);

 private:
  bool ReadMeasured(const v1::SceneObject& object, const std::string& path);
  bool ReadTrack(const v1::MeasuredTrack& track, const std::string& path, uint32_t number);
  void ReadSpent(const v1::SceneObject& object, const std::string& path, PerTier<double>& hours);

  SceneBuilder& builder_;
  Violations& violations_;
  std::vector<MeasuredFigure> figures_;  // of the row being read, [camera][frame]
  std::vector<uint32_t> tracks_;         // [camera]: number of its track
};

// One block, without copying its columns. `path`: of the block ("blocks[0]").
void AddBlock(const v1::ObjectBlock& block, const std::string& path, SceneBuilder& builder, Violations& violations);

// All rows, then all blocks, of a shot.
void AddObjects(const v1::Shot& shot, SceneBuilder& builder, Violations& violations);

// All of the above. The scene is usable only if no violation was recorded.
Scene SceneFromProto(const v1::Shot& shot, const ClassCatalogue& catalogue, const SceneLimits& limits,
                     Violations& violations);

// ---- A plan, written (convert_plan.cc, convert_explanation.cc)

v1::Tier ToProto(Tier tier);
v1::Reason ToProto(Reason reason);
v1::FloorTerm ToProto(FloorTerm term);
v1::PathSplit ToProto(PathSplit split);
v1::FrameRange ToProto(FrameRange range);

// Decision number `index` of the plan, without tiers and flips.
v1::Decision DecisionToProto(const PlannedShot& planned, size_t index);
void AddTiersAndFlips(const PlannedShot& planned, size_t index, v1::Decision& out);

v1::Totals TotalsToProto(const PlannedShot& planned);

// Everything but the decisions. `options` is echoed.
void PlanWithoutDecisions(const PlannedShot& planned, const v1::PlanOptions& options, v1::Plan& out);

// All of a plan and its stage times.
void ToProto(const PlannedShot& planned, const v1::PlanOptions& options, v1::PlanShotResponse& out);
void AddStageTimes(const PlannedShot& planned, v1::PlanShotResponse& out);

// The explanation of one object: decision with tiers and flips, every frame's figures, totals. `row` is in the scene.
void ExplanationToProto(const PlannedShot& planned, uint32_t row, v1::ExplainDecisionResponse& out);

// ---- Faults, written (convert_status.cc)

// INVALID_ARGUMENT with google.rpc.BadRequest and google.rpc.ErrorInfo of domain "scantling.v1". A client takes 8 KiB
// of trailing metadata and details travel in base64: as many violations as fit in kDetailBytes are listed, the rest are
// counted, in the message and in ErrorInfo's metadata ("violations": all, "listed").
inline constexpr size_t kDetailBytes = 5600;
grpc::Status InvalidArgument(const Violations& violations, std::string_view reason = "SHOT_INVALID");

// Code and message; codes have the same numbers in both.
grpc::Status ToGrpc(const absl::Status& status);

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_CONVERT_H_
