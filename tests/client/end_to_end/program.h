// Runs a program as a user would, without a shell: its three streams apart, its end told exactly.

#ifndef SCANTLING_TESTS_CLIENT_END_TO_END_PROGRAM_H_
#define SCANTLING_TESTS_CLIENT_END_TO_END_PROGRAM_H_

#include <gtest/gtest.h>
#include <sys/types.h>

#include <string>
#include <vector>

namespace scantling::client {

struct Outcome {
  int exit_code = -1;  // -1: ended by a signal
  int signal = 0;
  std::string out, err;
};

struct RunOptions {
  std::string input = {};         // on standard input, then its end
  bool terminal_for_err = false;  // standard error is a terminal instead of a pipe
};

// A started program. Wait exactly once.
class Program {
 public:
  Program(const std::vector<std::string>& arguments, const RunOptions& options);
  Program(const Program&) = delete;
  Program& operator=(const Program&) = delete;
  ~Program();

  // Feeds the input, gathers both streams until they end, and waits for the end.
  Outcome Wait();

  // Gathers until standard error holds `text`; false where the streams end before.
  bool AwaitOnErr(const std::string& text);
  // The same for standard output; false also after a minute.
  bool AwaitOnOut(const std::string& text);
  const std::string& out() const { return outcome_.out; }  // gathered so far
  pid_t pid() const { return pid_; }

  void Signal(int number) const;

 private:
  void Exchange();
  bool is_open() const { return out_ >= 0 || err_ >= 0; }

  pid_t pid_ = -1;
  int in_ = -1, out_ = -1, err_ = -1;
  std::string input_;
  Outcome outcome_;
};

// A folder of its own for every test, as TMPDIR and XDG_RUNTIME_DIR of what it runs, so that no daemon of this machine
// is met by chance and nothing that is left behind goes unnoticed.
class EndToEnd : public testing::Test {
 protected:
  void SetUp() override;
  void TearDown() override;

  // Runs the command with these arguments.
  Outcome Scantling(std::vector<std::string> arguments, const RunOptions& options = {}) const;
  // A demonstration shot of 48 frames, JSON or, with "--blocks" among the further arguments, binary.
  std::string Sample(int objects, std::vector<std::string> further = {}) const;

  std::string Folder() const { return folder_; }
  // Processes whose command line names this test's folder.
  std::vector<pid_t> Relatives() const;
  // Entries of the folder.
  std::vector<std::string> Leftovers() const;

 private:
  std::string folder_;
};

}  // namespace scantling::client

#endif  // SCANTLING_TESTS_CLIENT_END_TO_END_PROGRAM_H_
