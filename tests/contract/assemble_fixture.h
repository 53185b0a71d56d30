// What tests of AssembleShot have in common.

#ifndef SCANTLING_TESTS_CONTRACT_ASSEMBLE_FIXTURE_H_
#define SCANTLING_TESTS_CONTRACT_ASSEMBLE_FIXTURE_H_

#include <gtest/gtest.h>

#include <string>

#include "google/rpc/error_details.pb.h"
#include "google/rpc/status.pb.h"
#include "tests/contract/calls.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/live_client.h"
#include "tests/contract/shots.h"
#include "tests/planning/random_edits.h"

namespace scantling::testing {

inline v1::Shot HeaderOf(v1::Shot shot) {
  shot.clear_objects();
  return shot;
}

inline v1::ShotEdit ObjectsOf(const v1::Shot& shot) {
  v1::ShotEdit edit;
  *edit.mutable_objects() = shot.objects();
  return edit;
}

inline std::string Bytes(const v1::Plan& plan) { return plan.SerializeAsString(); }

inline google::rpc::BadRequest FaultsOf(const google::rpc::Status& status) {
  google::rpc::BadRequest faults;
  for (const google::protobuf::Any& detail : status.details()) {
    if (detail.Is<google::rpc::BadRequest>()) detail.UnpackTo(&faults);
  }
  return faults;
}

class Assemble : public ::testing::Test {
 protected:
  Assemble() : daemon_({"--listen", "127.0.0.1:0"}), client_(daemon_.Channel()) {}

  // The shot planned in one call.
  v1::Plan Fresh(const v1::Shot& shot, const v1::PlanOptions& options = {}) {
    const Answer answer = PlanOver(daemon_, shot, options);
    EXPECT_TRUE(answer.status.ok()) << answer.status.error_message();
    return answer.plan();
  }

  DaemonProcess daemon_;
  LiveClient client_;
};

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CONTRACT_ASSEMBLE_FIXTURE_H_
