#include "core/waveform/quality.h"

#include "core/waveform/quality_notes.h"

namespace lampload {

std::vector<QualityNote> quality_notes(const QualityInput& input) {
  Notes notes;
  note_clipping(input, notes);
  note_cycles(input, notes);
  if (holds_no_lamp_current(input)) {
    note_no_lamp_current(input, notes);
  } else {
    note_resolution(input, notes);
    note_offsets(input, notes);
    note_load_kind(input, notes);
    note_load_size(input, notes);
    note_steadiness(input, notes);
    note_symmetry(input, notes);
    note_clamp_bandwidth(input, notes);
    note_channel_delay(input, notes);
    note_contact_bounce(input, notes);
  }
  note_voltage_level(input, notes);
  note_frequency(input, notes);
  note_sampling(input, notes);
  note_voltage_shape(input, notes);
  note_supply_side(input, notes);
  return notes;
}

}  // namespace lampload
