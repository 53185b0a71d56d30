// What live sessions work with.

#ifndef SCANTLING_SERVER_RPC_LIVE_PARTS_H_
#define SCANTLING_SERVER_RPC_LIVE_PARTS_H_

#include <chrono>
#include <memory>
#include <optional>

#include "server/policy/types.h"
#include "server/rpc/lanes.h"
#include "server/scene/builder.h"
#include "server/session/store.h"
#include "server/session/ticker.h"

namespace scantling {

class LiveSession;

struct LiveSettings {  // see policy/daemon_config.h
  SessionLimits sessions;
  size_t map_bytes = size_t{256} << 20;        // of depth maps, kept by one session
  std::chrono::milliseconds final_after{150};  // without edits before a final plan is begun
};

struct LiveParts {
  const Policy& policy;
  SceneLimits limits;
  Lanes& lanes;
  LiveSettings settings;
  SessionStore<LiveSession>& store;
};

// All sessions of a daemon, and the clock that ends old ones. Ends every computation on destruction. `policy` and
// `lanes` must outlive it.
class LiveSessions {
 public:
  LiveSessions(const Policy& policy, const SceneLimits& limits, Lanes& lanes, const LiveSettings& settings);
  ~LiveSessions();
  LiveSessions(const LiveSessions&) = delete;
  LiveSessions& operator=(const LiveSessions&) = delete;

  const LiveParts& parts() const { return parts_; }

 private:
  SessionStore<LiveSession> store_;
  LiveParts parts_;
  std::optional<Ticker> ticker_;
};

}  // namespace scantling

#endif  // SCANTLING_SERVER_RPC_LIVE_PARTS_H_
