// Order of looking: the address given; the default socket, if somebody answers there; a private daemon. The default
// socket is tried with a plain connect, because a private daemon must be forked before gRPC starts its threads.
//
// Asking for a private daemon by name (--daemon) skips the default socket.

#include "client/command/connection.h"

#include <sys/stat.h>
#include <unistd.h>

#include <cctype>
#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "absl/strings/numbers.h"
#include "absl/strings/str_cat.h"
#include "client/library/utf8.h"

namespace scantling::client {
namespace {

constexpr char kUnixPrefix[] = "unix:";
constexpr int kGreatestPort = 65535;

std::optional<std::chrono::milliseconds> TimeLimit(double seconds) {
  if (seconds <= 0) return std::nullopt;
  return std::chrono::milliseconds(static_cast<int64_t>(seconds * 1000));
}

// CLI11's own range lets "nan" through.
std::string SecondsFault(const std::string& text) {
  constexpr double kMostSeconds = 1e6;
  double seconds = 0;
  const bool is_number = CLI::detail::lexical_cast(text, seconds);
  if (is_number && seconds >= 0 && seconds <= kMostSeconds) return "";
  return absl::StrCat("got \"", Printable(text), "\", want seconds, 0 to ", kMostSeconds);
}

bool OwnSocketAnswers(const std::string& path) {
  struct stat about = {};
  return lstat(path.c_str(), &about) == 0 && about.st_uid == getuid() && SocketAnswers(path);
}

}  // namespace

std::string DefaultAddress() {
  const char* runtime = std::getenv("XDG_RUNTIME_DIR");
  const std::string folder =
      runtime != nullptr && *runtime == '/' ? std::string(runtime) : absl::StrCat("/tmp/scantling-", getuid());
  return absl::StrCat(kUnixPrefix, folder, "/scantlingd.sock");
}

std::string AddressFault(const std::string& address) {
  const std::string want = absl::StrCat("got \"", Printable(address), "\", want unix:PATH or HOST:PORT");
  if (address.starts_with(kUnixPrefix)) return address.size() > sizeof kUnixPrefix - 1 ? "" : want;
  const size_t colon = address.rfind(':');
  int port = 0;
  if (colon == std::string::npos || colon == 0 || !std::isdigit(static_cast<unsigned char>(address.back())) ||
      !absl::SimpleAtoi(address.substr(colon + 1), &port) || port < 1 || port > kGreatestPort) {
    return want;
  }
  return "";
}

void AddConnectionFlags(CLI::App& app, ConnectionFlags& flags) {
  constexpr char kGroup[] = "Daemon";
  auto* address =
      app.add_option("--address", flags.address,
                     "Daemon to ask, unix:PATH or HOST:PORT. Without it: the default socket (" + DefaultAddress() +
                         ") if a daemon answers there, else a private daemon that is "
                         "started for this command and ends with it")
          ->check(AddressFault)
          ->type_name("ADDRESS")
          ->group(kGroup);
  app.add_option("--daemon", flags.daemon,
                 "Start this program as a private daemon. Default: scantlingd beside this program, else in PATH")
      ->type_name("PATH")
      ->excludes(address)
      ->group(kGroup);
  app.add_option("--daemon-config", flags.daemon_config, "Configuration file of a private daemon. Default: its own")
      ->type_name("FILE")
      ->excludes(address)
      ->group(kGroup);
  app.add_option("--time-limit", flags.time_limit_s,
                 "Seconds the daemon may take; 0: no limit. A plan that is cut short says so")
      ->check(SecondsFault)
      ->type_name("SECONDS")
      ->capture_default_str()
      ->group(kGroup);
}

absl::StatusOr<std::unique_ptr<Session>> Session::Open(const ConnectionFlags& flags) {
  auto session = std::make_unique<Session>();
  ConnectOptions options;
  options.time_limit = TimeLimit(flags.time_limit_s);
  options.address = flags.address.empty() ? DefaultAddress() : flags.address;
  const bool wants_own = !flags.daemon.empty() || !flags.daemon_config.empty();
  if (wants_own || (flags.address.empty() && !OwnSocketAnswers(options.address.substr(sizeof kUnixPrefix - 1)))) {
    auto daemon = PrivateDaemon::Start({flags.daemon, flags.daemon_config});
    if (!daemon.ok()) return daemon.status();
    session->daemon_ = *std::move(daemon);
    options.address = session->daemon_->address();
    std::fprintf(stderr, "scantling: started a private daemon for this command (%s)\n",
                 Printable(session->daemon_->program()).c_str());
  }
  session->address_ = options.address;
  if (absl::Status status = session->client_.Connect(options); !status.ok()) return status;
  return session;
}

}  // namespace scantling::client
