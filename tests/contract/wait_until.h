// Waiting for what another process does.

#ifndef SCANTLING_TESTS_CONTRACT_WAIT_UNTIL_H_
#define SCANTLING_TESTS_CONTRACT_WAIT_UNTIL_H_

#include <chrono>
#include <thread>

namespace scantling::testing {

// Asks `done` every 5 ms until it answers true or `patience` is over; its last answer.
template <typename Done>
bool WaitUntil(std::chrono::milliseconds patience, const Done& done) {
  const auto give_up = std::chrono::steady_clock::now() + patience;
  while (std::chrono::steady_clock::now() < give_up) {
    if (done()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return done();
}

}  // namespace scantling::testing

#endif  // SCANTLING_TESTS_CONTRACT_WAIT_UNTIL_H_
