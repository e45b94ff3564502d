#pragma once
// The notes that quality_notes() is made of, by what they are about. Each adds what it finds.

#include <vector>

#include "core/waveform/quality.h"

namespace lampload {

using Notes = std::vector<QualityNote>;

/// Ranges and zeros of both channels: clipping, resolution, offsets.
void note_clipping(const QualityInput& in, Notes& notes);
void note_resolution(const QualityInput& in, Notes& notes);
void note_offsets(const QualityInput& in, Notes& notes);

/// The supply, as the voltage channel has it.
void note_voltage_level(const QualityInput& in, Notes& notes);
void note_frequency(const QualityInput& in, Notes& notes);
void note_voltage_shape(const QualityInput& in, Notes& notes);
void note_supply_side(const QualityInput& in, Notes& notes);

/// What the current is of.
bool holds_no_lamp_current(const QualityInput& in);
void note_no_lamp_current(const QualityInput& in, Notes& notes);
void note_load_kind(const QualityInput& in, Notes& notes);
void note_load_size(const QualityInput& in, Notes& notes);
void note_steadiness(const QualityInput& in, Notes& notes);
void note_symmetry(const QualityInput& in, Notes& notes);
/// Are half cycles of one sign clearly cut later than the others? The DC of both channels is then the lamp's.
bool fires_unevenly(const QualityInput& in);

/// Time: length, sample rate, bandwidth, delay between the channels, contacts.
void note_cycles(const QualityInput& in, Notes& notes);
void note_sampling(const QualityInput& in, Notes& notes);
void note_clamp_bandwidth(const QualityInput& in, Notes& notes);
void note_channel_delay(const QualityInput& in, Notes& notes);
void note_contact_bounce(const QualityInput& in, Notes& notes);

}  // namespace lampload
