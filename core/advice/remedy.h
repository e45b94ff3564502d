#pragma once
// What would make a load hold that does not: each way tried before it is suggested.

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/load_check.h"

namespace lampload {

/// check_load(), or what stands for it.
using LoadJudge = std::function<LoadCheck(std::span<const LoadItem>, const Channel&, Mode)>;

enum class RemedyKind { another_mode, zero_cross_turn_on, split, fewer_lamps, more_lamps };

/// "another_mode", ... as other programs read it.
std::string remedy_name(RemedyKind kind);

struct Remedy {
  RemedyKind kind = RemedyKind::another_mode;
  std::string sentence;
};

/// Ways that hold, in the order in which a person would rather take them: another of these modes, turning on at the
/// zero crossing, the load split evenly over two to four such channels, fewer lamps of one type (more where only a
/// minimum fails). Empty where none does.
std::vector<Remedy> remedies(std::span<const LoadItem> load, const Channel& channel, const LoadCheck& failed,
                             std::span<const Mode> other_modes, const LoadJudge& judge);

}  // namespace lampload
