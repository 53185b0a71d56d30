// Idea: the empty prototype of a message knows its own size; a list adds one pointer per message. Lists grow by
// doubling, so up to twice the counted numbers may be held; the limit is set low enough for that not to matter.
//
// The table of sizes is filled on first use of a kind: there are fewer than thirty.

#include "client/library/memory_limit.h"

#include "google/protobuf/message.h"

namespace scantling::client {
namespace {

// A std::string on the heap with its allocation's own bookkeeping.
constexpr int64_t kTextBytes = 48;

}  // namespace

void MemoryTally::AddMessage(const google::protobuf::Descriptor& kind) {
  auto [at, is_new] = message_bytes_.try_emplace(&kind, 0);
  if (is_new) {
    const auto* prototype = google::protobuf::MessageFactory::generated_factory()->GetPrototype(&kind);
    at->second = static_cast<int64_t>(prototype->SpaceUsedLong() + sizeof(void*));
  }
  bytes_ += at->second;
}

void MemoryTally::AddText(int64_t bytes) { bytes_ += kTextBytes + bytes; }

}  // namespace scantling::client
