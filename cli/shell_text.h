#pragma once
// What shells and man(1) are told of the program, made from its own description.

#include <string>

#include "cli/command_line.h"

namespace lampload {

std::string bash_completion(const DescribedCommand& program);
std::string zsh_completion(const DescribedCommand& program);
std::string fish_completion(const DescribedCommand& program);

/// lampload(1) in troff with the macros of man(7).
std::string manual_page(const DescribedCommand& program, const std::string& version);

}  // namespace lampload
