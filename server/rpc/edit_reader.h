// Edits of a live shot, read: parts of one revision gathered into a scene builder, and merged onto the shot at its end.

#ifndef SCANTLING_SERVER_RPC_EDIT_READER_H_
#define SCANTLING_SERVER_RPC_EDIT_READER_H_

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "grpcpp/support/status.h"
#include "scantling/v1/assembly.pb.h"
#include "server/policy/types.h"
#include "server/rpc/asked.h"
#include "server/scene/builder.h"

namespace scantling {

// What stands above the objects of a live shot, as sent, and how its plan is wanted.
struct LiveHeader {
  v1::Shot shot;  // without objects and blocks
  v1::PlanOptions options;
  Asked asked;
  std::optional<int32_t> current_frame;
};

// One revision taken in.
struct TakenEdit {
  LiveHeader header;
  MergedScene merged;
  std::vector<std::string> removed_ids;
  bool scene_changed = false;
  bool options_changed = false;  // where neither did, it was about the current frame alone
};

// Not thread-safe.
class EditReader {
 public:
  EditReader(const Policy& policy, const SceneLimits& limits);
  ~EditReader();

  // The header of a new session. What it names is looked for with the first edit. INVALID_ARGUMENT with every fault.
  grpc::Status Begin(const v1::Begin& begin, LiveHeader& header) const;

  // One part of a revision on top of `header`. Faults are kept until the end.
  void Add(const v1::ShotEdit& part, const LiveHeader& header);

  // Ends the revision: all parts together, merged onto `base`. INVALID_ARGUMENT with every fault of all parts.
  grpc::Status Finish(const Scene& base, TakenEdit& taken);

  bool begun() const { return edit_ != nullptr; }
  void Drop();

 private:
  struct Edit;
  void Start(const v1::ShotEdit& part, const LiveHeader& header);

  const Policy& policy_;
  const SceneLimits limits_;
  std::unique_ptr<Edit> edit_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_EDIT_READER_H_
