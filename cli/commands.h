#pragma once
// The commands of the program. Each describes itself and says what it runs.

#include "cli/command_line.h"

namespace lampload {

void add_inspect(Command& program);
void add_characterise(Command& program);
void add_import(Command& program);
void add_fit(Command& program);
void add_recommend(Command& program);
void add_curve(Command& program);
void add_simulate(Command& program);
void add_compare(Command& program);
void add_plan(Command& program);
void add_report(Command& program);
void add_spice(Command& program);
void add_catalogue(Command& program);
void add_lamps(Command& program);
void add_show(Command& program);
void add_remove(Command& program);
void add_channels(Command& program);
void add_library(Command& program);
void add_share(Command& program);
void add_receive(Command& program);
void add_keys(Command& program);
void add_shell(Command& program);

/// Done, and the answer is "does not hold".
inline constexpr int status_does_not_hold = 1;

}  // namespace lampload
