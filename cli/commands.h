#pragma once
// The commands of the program. Each registers its options and, when it was the one asked for, leaves its job behind.

#include <functional>

namespace CLI {
class App;
}

namespace lampload {

/// What the command line asked for, ready to run. Returns the exit status; throws Error.
using Job = std::function<int()>;

void add_inspect(CLI::App& program, Job& job);
void add_characterise(CLI::App& program, Job& job);
void add_import(CLI::App& program, Job& job);
void add_fit(CLI::App& program, Job& job);
void add_recommend(CLI::App& program, Job& job);
void add_lamps(CLI::App& program, Job& job);
void add_show(CLI::App& program, Job& job);
void add_remove(CLI::App& program, Job& job);
void add_channels(CLI::App& program, Job& job);

/// Done, and the answer is "does not hold".
inline constexpr int status_does_not_hold = 1;

}  // namespace lampload
