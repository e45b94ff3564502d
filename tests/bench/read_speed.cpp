// The program's half of tests/bench/against_data_frame: reads one capture; seconds and memory as JSON.
#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <ctime>

#include "core/capture/read.h"

int main(int count, char** words) {
  if (count != 2) {
    fmt::print(stderr, "usage: read_speed CAPTURE\n");
    return 2;
  }
  const auto wall = std::chrono::steady_clock::now();
  const std::clock_t cpu = std::clock();
  const lampload::Capture capture = lampload::read_capture(words[1]);
  const double cpu_s = static_cast<double>(std::clock() - cpu) / CLOCKS_PER_SEC;
  const double wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - wall).count();
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  fmt::print("{{\"samples\": {}, \"wall_s\": {:.3f}, \"cpu_s\": {:.3f}, \"peak_bytes\": {}}}\n", capture.samples(),
             wall_s, cpu_s, 1024 * used.ru_maxrss);
}
