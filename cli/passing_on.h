#pragma once
// What is written of a lamp for others: as it came, or as it is known here with what its captures came with.

#include <string>

#include "cli/sharing_output.h"
#include "db/lamp_file.h"
#include "db/library.h"

namespace lampload {

/// A lamp that came in a lamp model file and was not touched since goes on as it came, with its signature. One with
/// captures or fits of one's own goes out on `terms`; what was received with it is still of somebody else: its licence
/// holds unless `terms` name one, and its contributor is named beside the one of `terms`. Throws as shared_lamp() does.
SharedNote passed_on(const Library& library, const std::string& name, const SharingTerms& terms);

/// To whoever shares, in sentences: what goes on under whose licence, and that a key was revoked.
std::vector<std::string> notes_on(const SharedNote& note, const SharingTerms& terms);

}  // namespace lampload
