#pragma once
// What 'library merge' prints.

#include <string>

#include "cli/terminal.h"
#include "db/merge.h"

namespace lampload {

std::string merge_json(const std::string& library, const std::string& other, const LibraryMerge& merge, bool dry_run);
void show_merge(Screen& screen, const LibraryMerge& merge, bool dry_run);

}  // namespace lampload
