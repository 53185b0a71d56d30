// Ids of sessions: whoever knows one may take the session over, so they cannot be guessed.

#ifndef SCANTLING_SERVER_SESSION_SESSION_ID_H_
#define SCANTLING_SERVER_SESSION_SESSION_ID_H_

#include <string>

namespace scantling {

// 32 hexadecimal digits of the system's own randomness.
std::string NewSessionId();

}  // namespace scantling

#endif  // SCANTLING_SERVER_SESSION_SESSION_ID_H_
