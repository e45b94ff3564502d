// The table of docs/channel_accuracy.md: every pair of pairs.h counted by the program and tried in ngspice. Run by
// tests/channels/run, never part of the tests.

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <exception>
#include <string>

#include "tests/channels/pairs.h"

int main(int argc, char** argv) {
  using namespace lampload::test;
  const std::string only = argc > 1 ? argv[1] : "";
  int tried = 0, agree = 0, largest = 0, both = 0, failed = 0;
  double worst = 0.0;
  fmt::print(
      "| lamp, channel, mode, constraint | N | limit | at N: ours | ngspice, worst | at N+1: ours | ngspice | "
      "deviation % | N is the largest | ngspice helped |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- "
      "|\n");
  for (const Pair& pair : channel_pairs()) {
    if (pair.name.find(only) == std::string::npos) continue;
    try {
      const Trial trial = try_pair(pair, true);
      ++tried;
      agree += trial.deviation() <= 0.03 ? 1 : 0;
      largest += trial.holds() && trial.fails_with_one_more() ? 1 : 0;
      both += trial.deviation() <= 0.03 && trial.holds() && trial.fails_with_one_more() ? 1 : 0;
      worst = std::max(worst, trial.deviation());
      fmt::print("| {} | {} | {:.4g} {} | {:.4g} | {:.4g} | {:.4g} | {:.4g} | {:.2f} | {} | {} |\n", pair.name,
                 trial.lamps, trial.limit, trial.unit, trial.ours, trial.highest, trial.ours_more, trial.theirs_more,
                 100.0 * trial.deviation(),
                 !trial.holds() ? "too many" : (trial.fails_with_one_more() ? "yes" : "one more holds too"),
                 trial.helped == 0 ? "" : fmt::format("{}", trial.helped));
    } catch (const std::exception& fault) {
      ++failed;
      std::fprintf(stderr, "%s: %s\n", pair.name.c_str(), fault.what());
      fmt::print("| {} | | | | | | | | not simulated | |\n", pair.name);
    }
    std::fflush(stdout);
  }
  fmt::print(
      "\n{} pairs; the constraint's value agrees within 3 % in {}; the count is the largest in {}; both in {}; not "
      "simulated {}. "
      "Worst deviation {:.2f} %.\n",
      tried + failed, agree, largest, both, failed, 100.0 * worst);
  return 0;
}
