#include "core/advice/constraint.h"

namespace lampload {
namespace {

bool phase_cut_triac(const Channel& channel, Mode mode) {
  return channel.output.switch_kind == SwitchKind::triac && mode == Mode::leading_edge;
}

}  // namespace

std::optional<Constraint> latching_load(const Channel& channel, Mode mode, Missing& missing) {
  if (!phase_cut_triac(channel, mode)) return std::nullopt;
  if (!channel.output.latching_current_a) {
    missing.emplace_back("minimum_load: output.latching_current_a");
    return std::nullopt;
  }
  return Constraint{.name = "minimum_load",
                    .quantity = channel.output.gate_pulse_s
                                    ? "current at the end of the gate pulse, to latch the triac,"
                                    : "highest current of the conduction interval, to latch the triac,",
                    .unit = "A",
                    .source = "channel rating, output.latching_current_a",
                    .limit = *channel.output.latching_current_a,
                    .minimum = true,
                    .of_steady = [by_gate_end = channel.output.gate_pulse_s.has_value()](const SteadyFigures& figures) {
                      return by_gate_end ? figures.gate_end_a : figures.latch_a;
                    }};
}

// A triac lets go near every zero crossing; the middle of the conduction interval must still hold it.
std::optional<Constraint> minimum_load(const Channel& channel, Mode mode, Missing& missing) {
  if (!phase_cut_triac(channel, mode)) return std::nullopt;
  if (!channel.output.holding_current_a) {
    missing.emplace_back("minimum_load: output.holding_current_a");
    return std::nullopt;
  }
  return Constraint{.name = "minimum_load",
                    .quantity = "current at the middle of the conduction interval, to hold the triac,",
                    .unit = "A",
                    .source = "channel rating, output.holding_current_a",
                    .limit = *channel.output.holding_current_a,
                    .minimum = true,
                    .of_steady = [](const SteadyFigures& figures) { return figures.midway_a; }};
}

std::optional<Constraint> two_wire_load(const Channel& channel, Mode mode, Missing& missing) {
  if (channel.output.neutral.value_or(true) || channel.output.kind != OutputKind::phase_cut || mode == Mode::on_off) {
    return std::nullopt;
  }
  if (!channel.output.two_wire_supply_a) {
    missing.emplace_back("minimum_load: output.two_wire_supply_a");
    return std::nullopt;
  }
  return Constraint{.name = "minimum_load",
                    .quantity = "mean current, to supply the channel itself through the lamps,",
                    .unit = "A",
                    .source = "channel rating, output.two_wire_supply_a",
                    .limit = *channel.output.two_wire_supply_a,
                    .minimum = true,
                    .of_steady = [](const SteadyFigures& figures) { return figures.mean_abs_a; }};
}

}  // namespace lampload
