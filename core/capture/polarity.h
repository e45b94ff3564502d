#pragma once
// DC or mains, by the sign of the voltage alone.

#include <optional>
#include <span>

namespace lampload {

/// +1 or -1 where the voltage keeps to one side of zero, as DC does, steady or switched; short spikes beyond zero (an
/// inductance that is switched off) do not count. Empty: it is as much above as below, as mains are.
std::optional<double> one_sign(std::span<const double> voltage_v);

}  // namespace lampload
