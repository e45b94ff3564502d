#pragma once
// Lamp records as the objects of a lamp model file, and back.

#include "db/json_reader.h"
#include "db/lamp_file.h"

namespace lampload::lamp_file {

/// Without digest and signature; with the signer's public key where terms.key is given.
json::Json written(const LampRecord& lamp, const SharingTerms& terms);

/// `object` must have the shape lamp_keys::lamp. Throws Error{input_refused} where samples cannot be unpacked; the
/// figures are not looked at.
LampRecord read(const json::Object& object);

/// What the content digest is made over.
json::Json content(const json::Json& record);

}  // namespace lampload::lamp_file
