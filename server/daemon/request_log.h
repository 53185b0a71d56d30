// One line of the log for every finished call.

#ifndef SCANTLING_SERVER_DAEMON_REQUEST_LOG_H_
#define SCANTLING_SERVER_DAEMON_REQUEST_LOG_H_

#include "server/daemon/log.h"
#include "server/rpc/call.h"

namespace scantling {

// Event "call": method, shot, objects, frames, status, peer, ms and wait_ms, and <stage>_ms of every stage run.
// Refusals of what was sent are information (they are the caller's business); what points at the daemon itself is a
// warning.
LogEvent CallEvent(const CallRecord& record);
void WriteCall(const Log& log, const CallRecord& record);

}  // namespace scantling

#endif  // SCANTLING_SERVER_DAEMON_REQUEST_LOG_H_
