#pragma once
#include <cstddef>
#include <string>
#include <string_view>

namespace rimstance {

// Words and numbers for people. Never depends on the locale; the decimal sign is a point.

/// The same text with every malformed UTF-8 sequence (overlong, surrogate, beyond U+10FFFF, cut off)
/// replaced by U+FFFD, one per maximal well-formed beginning (Unicode 15, section 3.9).
std::string valid_utf8(std::string_view);

/// Valid UTF-8 on one line: control characters become U+FFFD too, so a name from a file can neither
/// break a table nor steer a terminal.
std::string one_line(std::string_view);

/// Number of code points of valid UTF-8: the columns it takes on a terminal (wide scripts take more).
std::size_t width(std::string_view valid_utf8);

/// `value` with that many decimals, ties as to_chars rounds the exact binary value; never "-0.00".
/// NaN: "-". Infinite: the caller is wrong.
std::string fixed(double value, int decimals);

/// About `digits` significant digits without an exponent between 1e-4 and 1e7, with one outside;
/// digits before the point are never dropped (12345 stays 12345). NaN: "-".
std::string rounded(double value, int digits = 4);

/// For SVG, HTML and XML text and quoted attributes: valid UTF-8, & < > " ' escaped, characters that
/// XML 1.0 forbids replaced by U+FFFD.
std::string xml_escaped(std::string_view);

}  // namespace rimstance
