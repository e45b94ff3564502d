// One target, named when this is compiled, for libFuzzer: fuzz_TARGET -dict=... CORPUS
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "tests/fuzz/targets.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const auto run = [] {
    for (const auto& target : lampload::fuzz::targets()) {
      if (target.name == LAMPLOAD_FUZZ_TARGET) return target.run;
    }
    __builtin_trap();
  }();
  run({reinterpret_cast<const char*>(data), size});
  return 0;
}
