#pragma once
// Lamps and channels held against each other, as people read it; the JSON is in json_output.h.

#include <string>
#include <vector>

#include "cli/advice.h"
#include "cli/terminal.h"

namespace lampload {

/// Which of several channels takes the lamp, best first, a line each.
void show_ranking(Screen& screen, const std::string& lamp, const std::vector<Advice>& advice);

/// Which lamps suit the channel, and which were not looked at.
void show_lamps_for_channel(Screen& screen, const LampsForChannel& found);

/// What binds and how much of it is left, what would raise the count, what the margins cost and what would narrow them.
void show_reasons(Screen& screen, const Advice& advice);

/// "3 lamps"; "1000 lamps or more" where the search for a count ended.
std::string lamps_in_words(int lamps);

/// Every constraint of a mode with its value, limit, count and source.
Table constraints_table(const ModeVerdict& verdict);

/// The constraints with 1 to N lamps.
void show_count_table(Screen& screen, const Advice& advice);

}  // namespace lampload
