#pragma once
// The list that names all lamp families. A new family is one file and one line here.

#include <tuple>

#include "core/lamp/capacitive_dropper.h"
#include "core/lamp/corrected_driver.h"
#include "core/lamp/emitter.h"
#include "core/lamp/filament.h"
#include "core/lamp/inductive.h"
#include "core/lamp/linear_driver.h"
#include "core/lamp/rectifier_capacitor.h"
#include "core/lamp/resistor.h"
#include "core/lamp/strip.h"

namespace lampload {

using LampFamilies =
    std::tuple<Resistor, Filament, RectifierCapacitor<ConstantPowerLoad>, RectifierCapacitor<ConstantCurrentLoad>,
               RectifierCapacitor<LedStringLoad>, CapacitiveDropper, SeriesInductive, LoadedCore, LinearDriver<1>,
               LinearDriver<2>, LinearDriver<3>, LinearDriver<4>, CorrectedDriver, Strip, Emitter>;

/// Calls f.template operator()<Family>() for each family, in the order of the list.
template <class F>
void for_each_family(F&& f) {
  [&]<class... Family>(std::tuple<Family...>*) {
    (f.template operator()<Family>(), ...);
  }(static_cast<LampFamilies*>(nullptr));
}

}  // namespace lampload
