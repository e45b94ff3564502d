#pragma once
// What the readers are thrown at: each function takes any bytes, lets a reader have them, and aborts where the reader
// does anything but give a sound capture or refuse with a message and a remedy.

#include <span>
#include <string_view>

namespace lampload::fuzz {

struct Target {
  std::string_view name;
  void (*run)(std::string_view bytes);
};

std::span<const Target> targets();

}  // namespace lampload::fuzz
