#include "rimstance/base/errors.hpp"

#include "rimstance/base/utf8.hpp"

namespace rimstance {

std::string to_string(const Issue& issue) {
  std::string out = issue.place.file;
  if (issue.place.line > 0) out += ":" + std::to_string(issue.place.line);
  if (issue.place.line > 0 && issue.place.column > 0) out += ":" + std::to_string(issue.place.column);
  if (!out.empty()) out += ": ";
  if (!issue.place.path.empty()) out += issue.place.path + ": ";
  out += issue.what;
  if (!issue.way_out.empty()) out += "; " + issue.way_out;
  return printable(out);
}

InputError::InputError(std::vector<Issue> found) : issues(std::move(found)) {
  for (const Issue& issue : issues) {
    if (!text_.empty()) text_ += "\n";
    text_ += to_string(issue);
  }
}

InputError::InputError(Place place, std::string what, std::string way_out)
    : InputError({Issue{std::move(place), std::move(what), std::move(way_out)}}) {}

}  // namespace rimstance
