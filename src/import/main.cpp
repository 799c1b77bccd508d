// rimstance-import SECONDS BYTES: reads or writes one terrain file for rimstance, under these limits of
// processor time and address space. The request comes in descriptor 3, heights to be written in 5; the answer
// goes into 4. It prints nothing.
#include <signal.h>
#include <sys/resource.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <cstdint>
#include <new>
#include <optional>
#include <string>
#include <string_view>

#include "fence.hpp"
#include "meshes.hpp"
#include "rasters.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/exchange.hpp"

namespace rimstance {

namespace {

constexpr int kRequest = 3, kReply = 4, kData = 5;

std::optional<std::uint64_t> whole_number(std::string_view text) {
  std::uint64_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

bool limit(__rlimit_resource which, std::uint64_t value) {
  const rlimit both{value, value};
  return ::setrlimit(which, &both) == 0;
}

/// Before anything of the request is looked at.
bool set_limits(std::uint64_t seconds, std::uint64_t bytes) {
  ::signal(SIGXFSZ, SIG_IGN);  // a write that is too long then fails like any other
  return limit(RLIMIT_CORE, 0) && limit(RLIMIT_AS, bytes) && limit(RLIMIT_FSIZE, bytes) &&
         limit(RLIMIT_CPU, seconds);
}

std::string all_of(int fd) {
  std::string out;
  std::string piece(1 << 20, '\0');
  ::lseek(fd, 0, SEEK_SET);  // the place in the file is shared with the writer, who is at its end
  for (;;) {
    const ssize_t n = ::read(fd, piece.data(), piece.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return out;
    out.append(piece, 0, static_cast<std::size_t>(n));
  }
}

bool put_all(int fd, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t n = ::write(fd, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

std::string work(const ImportRequest& request) {
  switch (request.work) {
    case ImportRequest::Work::mesh:
      return to_bytes(read_mesh(request));
    case ImportRequest::Work::raster:
      return to_bytes(read_raster(request));
    case ImportRequest::Work::write_raster:
      break;
  }
  write_raster_file(request, raster_to_write(all_of(kData)));
  return done_message();
}

std::string refusal(std::string what, std::string way_out) {
  constexpr std::size_t kLongest = 4096;  // libraries repeat pieces of the file in their messages
  if (what.size() > kLongest) what.resize(kLongest);
  if (way_out.size() > kLongest) way_out.resize(kLongest);
  return to_bytes(ImportRefusal{std::move(what), std::move(way_out)});
}

std::string answer() {
  try {
    return work(import_request(all_of(kRequest)));
  } catch (const std::bad_alloc&) {
    throw;
  } catch (const InputError& error) {
    if (!error.issues.empty()) return refusal(error.issues[0].what, error.issues[0].way_out);
    return refusal("cannot be read", "");
  } catch (const std::exception& error) {
    return refusal(std::string("cannot be read (") + error.what() + ")", "export it again");
  }
}

/// Made before the limits hold: later there may be no memory for it.
std::string too_large(std::uint64_t bytes) {
  return refusal("needs more memory than allowed (" + std::to_string(bytes >> 20) + " MiB)",
                 "give a smaller piece of it; if it is small, it is damaged: export it again");
}

bool put_answer(const std::string& for_want_of_memory) {
  try {
    return put_all(kReply, answer());
  } catch (const std::bad_alloc&) {
    return put_all(kReply, for_want_of_memory);
  }
}

}  // namespace

}  // namespace rimstance

int main(int argc, char** argv) {
  using namespace rimstance;
  const auto seconds = argc == 3 ? whole_number(argv[1]) : std::nullopt;
  const auto bytes = argc == 3 ? whole_number(argv[2]) : std::nullopt;
  if (!seconds || !bytes) {
    put_all(2, "rimstance-import is started by rimstance, not by hand\n");
    return 2;
  }
  const std::string for_want_of_memory = too_large(*bytes);
  fence();
  if (!set_limits(*seconds, *bytes)) return 3;
  return put_answer(for_want_of_memory) ? 0 : 3;
}
