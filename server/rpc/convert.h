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
#include "server/planning/trace_frontier.h"
#include "server/policy/types.h"
#include "server/scene/builder.h"
#include "server/units/stop.h"
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

// ---- A plan, written (convert_plan.cc, convert_totals.cc, convert_explanation.cc)

v1::Tier ToProto(Tier tier);
v1::Reason ToProto(Reason reason);
v1::FloorTerm ToProto(FloorTerm term);
v1::PathSplit ToProto(PathSplit split);
v1::FrameRange ToProto(FrameRange range);

// Decision number `index` of the plan, without tiers and flips.
v1::Decision DecisionToProto(const PlannedShot& planned, size_t index);
// Tiers, flips, and the reason with the prices of the day.
void AddTiersAndFlips(const PlannedShot& planned, size_t index, const Stop& stop, v1::Decision& out);

v1::Totals TotalsToProto(const PlannedShot& planned);

// Everything but the decisions. `options` is echoed, but for earlier decisions.
void PlanWithoutDecisions(const PlannedShot& planned, const v1::PlanOptions& options, v1::Plan& out);

// What the figures are, in a sentence or two.
std::string EstimateNote(const Policy& policy);

// All of a plan and its stage times.
void ToProto(const PlannedShot& planned, const v1::PlanOptions& options, v1::PlanShotResponse& out);
void AddStageTimes(const std::vector<StageClock>& clocks, google::protobuf::RepeatedPtrField<v1::StageTime>& out);

// The explanation of one object: decision with tiers and flips, every frame's figures, totals. `row` is in the scene.
void ExplanationToProto(const PlannedShot& planned, uint32_t row, const Stop& stop, v1::ExplainDecisionResponse& out);

// ---- A frontier, written (convert_frontier.cc)

v1::FrontierPoint ToProto(const FrontierPoint& point);
v1::FrontierSummary SummaryToProto(const Frontier& frontier, const FrontierRequest& sweep, const Policy& policy);

// How far a call has come, the planner's stages in the terms of the API.
v1::Progress ProgressToProto(std::string_view stage, double fraction, int64_t objects);

// ---- Faults, written (convert_status.cc)

// INVALID_ARGUMENT with google.rpc.BadRequest and google.rpc.ErrorInfo of domain "scantling.v1". A client takes 8 KiB
// of trailing metadata and details travel in base64: as many violations as fit in kDetailBytes are listed, the rest are
// counted, in the message and in ErrorInfo's metadata ("violations": all, "listed").
inline constexpr size_t kDetailBytes = 5600;
grpc::Status InvalidArgument(const Violations& violations, std::string_view reason = "SHOT_INVALID");

// Most bytes of details that reach a client beside `message`; the message within the details counts as theirs.
size_t DetailRoom(std::string_view message);

// Cut after some bytes, not within a character. most_bytes >= 3.
std::string Shortened(const std::string& text, size_t most_bytes);

// Code and message; codes have the same numbers in both.
grpc::Status ToGrpc(const absl::Status& status);

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_CONVERT_H_
