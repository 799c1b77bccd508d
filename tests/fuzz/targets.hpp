#pragma once
#include <string_view>

// What a fuzzer, or the replay of its corpus, feeds. Each target takes any bytes: refusing them with an
// InputError that says something is right, and so is accepting them if the content then holds together.
// Everything else ends the process.
namespace fuzz {

void ply(std::string_view bytes);
void obj(std::string_view bytes);
void stl(std::string_view bytes);
void off(std::string_view bytes);
void asc(std::string_view bytes);
void las(std::string_view bytes);
void xyz(std::string_view bytes);
void scenario(std::string_view bytes);
void exchange(std::string_view bytes);
void number(std::string_view bytes);

/// Is what a terrain reader made of these bytes taken on to ground and its questions, which costs far more
/// than reading? The replay says yes, a fuzzer says it to one input in eight.
bool goes_to_ground(std::string_view bytes);

/// Ends the process, naming the law that does not hold.
void require(bool holds, const char* law);

}  // namespace fuzz
