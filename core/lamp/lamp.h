#pragma once
// A lamp as the rest of the program sees it: a family by name, parameter values, and a device to put into a circuit.

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

/// A lamp inside a simulation: parameters and present state. Currents and charges are those of one lamp.
class LampDevice {
 public:
  /// What a step of the terminal voltage from v0 to v1 would give, with its slopes by v1 (the companion form).
  struct Response {
    double current_a;      ///< at the end of the step
    double current_slope;  ///< d current / d v1 [S]
    double charge_c;       ///< during the step
    double charge_slope;   ///< d charge / d v1 [F]
  };

  virtual ~LampDevice() = default;
  /// Tries a step; the state stays as it was.
  [[nodiscard]] virtual Response propose(double v0, double v1, double dt_s) const = 0;
  /// Takes the step that was proposed last, its end moved by dv: along the slopes, so dv must be small.
  virtual Step<double> take(double dv) = 0;
  /// Takes a step and keeps the new state. Returns current and charge.
  virtual Step<double> advance(double v0, double v1, double dt_s) = 0;
  [[nodiscard]] virtual std::span<double> state() = 0;
  [[nodiscard]] virtual std::unique_ptr<LampDevice> clone() const = 0;
};

/// One entry of the family list, without its template: tables and makers. Parameters as Lamp takes them.
struct FamilyInfo {
  std::string_view name;
  std::string_view load_law;
  double rarity;
  Feed feed;
  std::span<const ParameterSpec> parameters;
  std::span<const StateSpec> states;
  std::span<const SchematicPart> schematic;
  std::unique_ptr<LampDevice> (*make_device)(std::span<const double> parameters);
  std::vector<DerivedFigure> (*derived)(std::span<const double> parameters, const OperatingPoint& at);
  double (*dc_current_a)(std::span<const double> parameters, double voltage_v);  ///< null: no static characteristic
  /// Estimated light of one lamp at an instant, in a unit of its own; null: the circuit does not say it.
  double (*light)(std::span<const double> parameters, std::span<const double> state, double voltage_v,
                  double current_a);
  std::string_view light_law;       ///< what the estimate rests on; empty where there is none
  std::string_view harmed_by_cuts;  ///< why no phase cut suits such lamps; empty: one may
  std::string_view plain_until;     ///< capture without which it may look like a resistance; empty: it never does
  bool (*plausible)(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

/// All families, in the order of families.h.
std::span<const FamilyInfo> lamp_families();

/// Throws Error{input_refused} naming the known families.
const FamilyInfo& find_family(std::string_view name, std::string_view load_law);

/// A family with parameter values, checked against the table's bounds.
class Lamp {
 public:
  /// parameters: SI, one for each entry of the family's table; those of parts at its end may be left out where the lamp
  /// does without. Throws Error{input_refused} for a wrong count, a value out of bounds, or a part that is there by
  /// half.
  Lamp(const FamilyInfo& family, std::vector<double> parameters);

  [[nodiscard]] const FamilyInfo& family() const { return *family_; }
  [[nodiscard]] const std::vector<double>& parameters() const { return parameters_; }
  /// At rest: cold and discharged.
  [[nodiscard]] std::unique_ptr<LampDevice> device() const { return family_->make_device(parameters_); }

 private:
  const FamilyInfo* family_;
  std::vector<double> parameters_;
};

/// The DC voltage at which a lamp takes this current, 0 to 2000 V. Throws Error{input_refused} where its family has no
/// static characteristic.
double dc_voltage_v(const FamilyInfo& family, std::span<const double> parameters, double current_a);

/// A parameter in the coordinate it is fitted in and covariances are stored in: ln(value) or value / scale.
double to_coordinate(const ParameterSpec& spec, double value);
double from_coordinate(const ParameterSpec& spec, double coordinate);

}  // namespace lampload
