#include "core/standards/cable.h"

#include <gtest/gtest.h>

#include <array>

#include "core/error.h"

namespace lampload::standards_cable_test {
namespace {

// BS 7671 appendix 4, mV per ampere and metre, PVC at 70 degrees Celsius.
TEST(Cable, VoltageDropAgreesWithTheInstallationTables) {
  struct Row {
    double mm2, mv_per_a_m;
  };
  for (const Row row : std::array<Row, 4>{{{1.0, 44.0}, {1.5, 29.0}, {2.5, 18.0}, {4.0, 11.0}}}) {
    EXPECT_NEAR(cable_impedance(1.0, row.mm2).resistance_ohm * 1e3, row.mv_per_a_m, 0.025 * row.mv_per_a_m);
  }
}

TEST(Cable, InductanceOfTheLoop) { EXPECT_NEAR(cable_impedance(20.0, 1.5).inductance_h, 13e-6, 1e-6); }

TEST(Cable, RefusesAnImpossibleConductor) { EXPECT_THROW(cable_impedance(1.0, 0.0), Error); }

}  // namespace
}  // namespace lampload::standards_cable_test
