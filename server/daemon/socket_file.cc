// gRPC removes whatever socket file stands where it binds, a living daemon's included, so a connection is tried first.
// Between trying and binding the folder is locked (flock on its own descriptor, so no lock file is left about): two
// daemons starting at once cannot both find the place free.

#include "server/daemon/socket_file.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <string>
#include <utility>

#include "absl/strings/str_cat.h"

namespace scantling {
namespace {

absl::Status SystemFault(const std::string& what, const std::string& path) {
  return absl::ErrnoToStatus(errno, absl::StrCat(what, " ", path));
}

absl::Status MakeFolder(const std::string& folder, bool must_be_own) {
  if (mkdir(folder.c_str(), 0700) == 0) return absl::OkStatus();
  if (errno != EEXIST) return SystemFault("cannot make the folder", folder);
  if (!must_be_own) return absl::OkStatus();
  struct stat found = {};
  if (lstat(folder.c_str(), &found) != 0) return SystemFault("cannot read", folder);
  if (S_ISDIR(found.st_mode) && found.st_uid == geteuid() && (found.st_mode & 0077) == 0) return absl::OkStatus();
  return absl::InvalidArgumentError(
      absl::StrCat(folder, " is not a folder of this user alone, want owner ", geteuid(), " and mode 0700"));
}

absl::Status RemoveStale(const std::string& path) {
  struct stat found = {};
  if (lstat(path.c_str(), &found) != 0) {
    return errno == ENOENT ? absl::OkStatus() : SystemFault("cannot read", path);
  }
  if (!S_ISSOCK(found.st_mode)) {
    return absl::InvalidArgumentError(absl::StrCat(path, " is there and is no socket, want a free path"));
  }
  const absl::Status answer = AskSocket(path);
  if (answer.ok()) return absl::FailedPreconditionError(absl::StrCat("another daemon answers on ", path));
  if (!absl::IsUnavailable(answer)) return answer;
  if (unlink(path.c_str()) != 0) return SystemFault("cannot remove the stale socket", path);
  return absl::OkStatus();
}

}  // namespace

absl::Status AskSocket(const std::string& path) {
  sockaddr_un address = {};
  address.sun_family = AF_UNIX;
  if (path.size() >= sizeof address.sun_path) return absl::InvalidArgumentError(absl::StrCat(path, " is too long"));
  std::memcpy(address.sun_path, path.data(), path.size());
  // Not blocking: a daemon whose queue of connections is full is alive, and answers EAGAIN.
  const int probe = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
  if (probe < 0) return SystemFault("cannot open a socket for", path);
  const int connected = connect(probe, reinterpret_cast<const sockaddr*>(&address), sizeof address);
  const int fault = errno;
  close(probe);
  if (connected == 0 || fault == EAGAIN) return absl::OkStatus();
  if (fault == ECONNREFUSED || fault == ENOENT) return absl::UnavailableError(absl::StrCat("nobody answers on ", path));
  return absl::ErrnoToStatus(fault, absl::StrCat("cannot connect to ", path));
}

absl::StatusOr<SocketPlace> SocketPlace::Claim(const ListenAddress& address) {
  const size_t slash = address.socket_path.rfind('/');
  // Without its slash at the end, with which a symbolic link would be followed.
  const std::string folder = slash == std::string::npos ? "." : address.socket_path.substr(0, slash == 0 ? 1 : slash);
  if (absl::Status made = MakeFolder(folder, address.own_folder); !made.ok()) return made;
  const int descriptor = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return SystemFault("cannot open the folder", folder);
  SocketPlace place(descriptor, umask(0177));
  if (flock(descriptor, LOCK_EX) != 0) return SystemFault("cannot lock the folder", folder);
  if (absl::Status free = RemoveStale(address.socket_path); !free.ok()) return free;
  return place;
}

SocketPlace::SocketPlace(SocketPlace&& other) noexcept
    : folder_(std::exchange(other.folder_, -1)), mask_(other.mask_) {}

SocketPlace::~SocketPlace() {
  if (folder_ < 0) return;
  umask(mask_);
  close(folder_);  // unlocks
}

}  // namespace scantling
