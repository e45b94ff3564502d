#pragma once
// The channel file: JSON, "format":"lampload-channel", "format_version":"1.0". docs/formats/channel.md describes every
// key.

#include <string>

#include "core/circuit/channel.h"

namespace lampload {

/// Reads and checks a channel file. Throws Error{input_refused} with file and key for every fault: unknown keys (with
/// the nearest known one), wrong types, values out of physical bounds, a format or version this program does not know.
Channel read_channel_file(const std::string& path);

/// The same from text; `origin` names it in errors.
Channel parse_channel(const std::string& json_text, const std::string& origin);

/// Canonical JSON text of a channel, two-space indent, keys in the order of the format's description.
std::string channel_json(const Channel& channel);

}  // namespace lampload
