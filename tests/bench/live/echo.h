// What the transport alone takes: a stream that sends bytes and gets bytes, through the same library, over the same
// kind of socket, to another process that computes nothing.

#ifndef SCANTLING_TESTS_BENCH_LIVE_ECHO_H_
#define SCANTLING_TESTS_BENCH_LIVE_ECHO_H_

#include <sys/types.h>

#include <cstdint>
#include <memory>
#include <string>

namespace scantling::bench {

// Serves at `address` until killed, or until the process that started it ends. Answers one message for one message,
// with as many bytes as its first eight, little-endian, say.
int ServeEcho(const std::string& address);

class Echo {
 public:
  // Starts this program again as `bench_live echo ADDRESS`, and connects. Ends the program where that fails.
  explicit Echo(const std::string& address);
  ~Echo();
  Echo(const Echo&) = delete;
  Echo& operator=(const Echo&) = delete;

  // From before the message is given to the transport until the answer is read, ms. `bytes_out` are sent (at least
  // eight), `bytes_back` come back.
  double RoundTrip(int64_t bytes_out, int64_t bytes_back);

 private:
  struct Stream;
  pid_t pid_ = -1;
  std::unique_ptr<Stream> stream_;
};

}  // namespace scantling::bench

#endif  // SCANTLING_TESTS_BENCH_LIVE_ECHO_H_
