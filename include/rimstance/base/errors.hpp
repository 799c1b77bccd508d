#pragma once
#include <exception>
#include <stdexcept>
#include <string>
#include <vector>

namespace rimstance {

// Three failures, three mechanisms:
//   the file is wrong             -> InputError: every issue of the input, with place and way out
//   the ground or machine says no -> an outcome in the result, with how far it fell short
//   the caller is wrong           -> expects(), in every build
// Beside them: MachineError when the computer fails (disk full, file cannot be written).

struct Place {
  std::string file;
  int line = 0, column = 0;  ///< from 1; 0: the file (or byte stream) as a whole
  std::string path;          ///< dotted path of the value, where there is one
};

struct Issue {
  Place place;
  std::string what;     ///< names the value found and what is allowed
  std::string way_out;  ///< what to do; may be empty
};

/// "file:line:column: what; what to do" (parts that do not exist are left out), on one line that steers no
/// terminal whatever the names in it are (utf8.hpp).
std::string to_string(const Issue&);

/// The input is wrong: carries ALL issues found. Thrown only by load_*() and the verbs that read.
struct InputError : std::exception {
  std::vector<Issue> issues;
  explicit InputError(std::vector<Issue> found);
  InputError(Place place, std::string what, std::string way_out = {});
  const char* what() const noexcept override { return text_.c_str(); }

 private:
  std::string text_;
};

/// The machine or the system failed (exit status 3).
struct MachineError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Long work was stopped on request, at a chunk border (exit status 4).
struct Interrupted : std::exception {
  const char* what() const noexcept override { return "interrupted"; }
};

inline void expects(bool holds, const char* contract) {
  if (!holds) throw std::logic_error(contract);
}

}  // namespace rimstance
