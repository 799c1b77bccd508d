#pragma once
#include <cstddef>
#include <string>
#include <string_view>

namespace rimstance {

/// Length of the valid UTF-8 sequence at the start of `text`, 0 if there is none (RFC 3629: no overlong
/// forms, no surrogates, nothing beyond U+10FFFF).
std::size_t utf8_length(std::string_view text);

/// Of one valid sequence: would it move the cursor, start a command of a terminal or turn the text round?
/// Control characters (ASCII and U+0080 to U+009F), line and paragraph separators, marks of direction.
bool steers_terminal(std::string_view sequence);

/// The same text on one line that steers no terminal: bytes of such sequences, and of what is no UTF-8,
/// become \xNN. For messages, which quote names that anybody may have chosen.
std::string printable(std::string_view text);

}  // namespace rimstance
