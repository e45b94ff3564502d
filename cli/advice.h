#pragma once
// A recommendation with what people want to know beside it, and the lamps of a library for one channel.

#include <optional>
#include <string>
#include <vector>

#include "cli/basis.h"
#include "cli/options.h"
#include "core/advice/load_check.h"
#include "core/advice/recommendation.h"
#include "db/library.h"

namespace lampload {

/// A recommendation, and what the fit says to measure next.
struct Advice {
  Channel channel;
  Recommendation recommendation;
  std::string next_capture;      ///< sentence; empty: nothing would narrow the answer much
  std::vector<LoadCheck> table;  ///< one for each count of `counts`; empty where none was asked for
  std::vector<int> counts;
  std::optional<Basis> basis;  ///< of a stored lamp
};

Advice advise(const LampEvidence& lamp, const Channel& channel, const std::optional<StoredFit>& fit);

/// Says with the advice what the stored lamp rests on, and first of its cautions where it was not measured here.
void tell_basis(Advice& advice, const LampRecord& lamp);

/// What holds before what does not, dimming before on and off, then the higher count.
bool ranks_before(const Advice& a, const Advice& b);

/// The recommended mode (else the one that misses least) with 1 to `last` lamps; a dozen counts at most.
void add_table(Advice& advice, const LampEvidence& lamp, int last);

/// A lamp of the library for a channel.
struct LampForChannel {
  std::string lamp;
  std::string family;
  Mode mode = Mode::none;
  int max_lamps = 0;
  int max_lamps_nominal = 0;
  std::string limited_by;
  Trust trust = Trust::own;
};

struct NotLookedAt {
  std::string lamp;
  std::string why;
};

struct LampsForChannel {
  std::string channel;
  std::vector<LampForChannel> lamps;  ///< those that suit it first, the highest count first
  std::vector<NotLookedAt> others;
  std::vector<std::string> not_checked;
};

/// Mains channels: by the stored figures of every lamp, without a simulation. DC channels: by the circuit of every lamp
/// that is fed with DC.
LampsForChannel lamps_for(const Channel& channel, const Library& library, const LabelOption& label);

}  // namespace lampload
