#pragma once
// What a switch loses while it opens or closes.

#include "core/circuit/network.h"

namespace lampload {

/// Energy [J] in a switch whose voltage goes in a straight line, within edge_s, from what leaves start_v at the lamps
/// to what leaves end_v, the supply standing at supply_v meanwhile. The lamps answer by their own current: a resistor
/// costs V I t / 6, a current that an inductance keeps up V I t / 2, a reservoir that blocks at once next to nothing.
/// What the path's inductance lets through at most counts where the switch closes.
double edge_loss_j(const Network& network, double supply_v, double start_v, double end_v, double edge_s);

}  // namespace lampload
