// Without TLS everything on the wire can be read and forged, so only what never leaves the machine is listened on.
//
// Loopback is 127.0.0.0/8 and ::1 (RFC 1122 section 3.2.1.3, RFC 4291 section 2.5.3), and ::ffff:127.0.0.0/104, which
// is the first written in IPv6.

#include "server/daemon/address.h"

#include <arpa/inet.h>
#include <netdb.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdlib>
#include <memory>
#include <optional>

#include "absl/strings/str_cat.h"
#include "server/policy/daemon_config.h"

namespace scantling {
namespace {

constexpr std::string_view kUnixPrefix = "unix:";

// An empty or relative XDG_RUNTIME_DIR counts as not set. Source: XDG Base Directory Specification 0.8.
const char* RuntimeFolder() {
  const char* folder = std::getenv("XDG_RUNTIME_DIR");
  return folder != nullptr && folder[0] == '/' ? folder : nullptr;
}

bool IsLoopback(const sockaddr& address) {
  if (address.sa_family == AF_INET) {
    const auto& v4 = reinterpret_cast<const sockaddr_in&>(address);
    return (ntohl(v4.sin_addr.s_addr) >> 24) == 127;
  }
  if (address.sa_family != AF_INET6) return false;
  const in6_addr& v6 = reinterpret_cast<const sockaddr_in6&>(address).sin6_addr;
  return IN6_IS_ADDR_LOOPBACK(&v6) || (IN6_IS_ADDR_V4MAPPED(&v6) && v6.s6_addr[12] == 127);
}

absl::Status CheckLoopback(const std::string& host) {
  addrinfo hints = {};
  hints.ai_socktype = SOCK_STREAM;
  addrinfo* found = nullptr;
  if (const int fault = getaddrinfo(host.c_str(), nullptr, &hints, &found); fault != 0) {
    return absl::InvalidArgumentError(absl::StrCat("cannot resolve host \"", host, "\": ", gai_strerror(fault)));
  }
  const std::unique_ptr<addrinfo, decltype(&freeaddrinfo)> owner(found, freeaddrinfo);
  for (const addrinfo* entry = found; entry != nullptr; entry = entry->ai_next) {
    if (IsLoopback(*entry->ai_addr)) continue;
    return absl::InvalidArgumentError(
        absl::StrCat("got host \"", host,
                     "\", want a unix socket or a loopback address (127.0.0.1, [::1], localhost): anything else needs "
                     "TLS, which this daemon does not offer"));
  }
  return absl::OkStatus();
}

std::string HostOf(std::string_view text) {
  std::string_view host = text.substr(0, text.rfind(':'));
  if (host.size() > 2 && host.front() == '[') host = host.substr(1, host.size() - 2);
  return std::string(host);
}

}  // namespace

std::string DefaultSocketPath() {
  if (const char* runtime = RuntimeFolder()) return absl::StrCat(runtime, "/scantlingd.sock");
  return absl::StrCat("/tmp/scantling-", getuid(), "/scantlingd.sock");
}

absl::StatusOr<ListenAddress> ResolveListen(std::string_view text) {
  const bool own_folder = text.empty() && RuntimeFolder() == nullptr;
  const std::string address = text.empty() ? absl::StrCat("unix:", DefaultSocketPath()) : std::string(text);
  if (const std::optional<std::string> fault = ListenAddressFault(address)) {
    return absl::InvalidArgumentError(absl::StrCat("listen: ", *fault));
  }
  if (std::string_view(address).substr(0, kUnixPrefix.size()) == kUnixPrefix) {
    return ListenAddress{address, address.substr(kUnixPrefix.size()), own_folder};
  }
  if (absl::Status loopback = CheckLoopback(HostOf(address)); !loopback.ok()) return loopback;
  return ListenAddress{address, "", false};
}

}  // namespace scantling
