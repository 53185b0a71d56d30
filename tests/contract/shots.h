// Shots the contract tests send.

#ifndef SCANTLING_TESTS_CONTRACT_SHOTS_H_
#define SCANTLING_TESTS_CONTRACT_SHOTS_H_

#include <vector>

#include "scantling/v1/scene.pb.h"
#include "scantling/v1/shot_planner.grpc.pb.h"

namespace scantling::testing {

// A camera at eye height looking down -Z, 24 frames, and no objects.
v1::Shot EmptyStage();

// The stage with a lead five metres away, two people, a ferry with one of them aboard, and one person behind the
// camera.
v1::Shot TinyShot();

// `count` people in rows on the stage, `frames` long; every second one walks. Ids, sizes and places follow from the
// index alone.
v1::Shot Crowd(int count, int frames);

// The shot of Crowd without its objects, and its objects in blocks of `per_block`.
struct CrowdInBlocks {
  v1::Shot shot;
  std::vector<v1::ObjectBlock> blocks;
};
CrowdInBlocks BlocksOf(const v1::Shot& crowd, int per_block);

// A stream's whole answer. `plan` is the summary's, with the decisions put back in.
struct StreamedPlan {
  grpc::Status status;
  v1::Plan plan;
  std::vector<v1::Progress> progress;
  std::vector<int> decisions_per_message;
  int messages_after_summary = 0;
};
StreamedPlan PlanByStream(v1::ShotPlanner::Stub& planner, const std::vector<v1::PlanLargeShotRequest>& parts);

// Start and blocks of a crowd as the messages of a stream.
std::vector<v1::PlanLargeShotRequest> PartsOf(const CrowdInBlocks& crowd, const v1::PlanOptions& options);

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CONTRACT_SHOTS_H_
