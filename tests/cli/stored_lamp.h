#pragma once
// Lamps with a known circuit, put into the library without a fit.

#include <string>
#include <vector>

#include "program.h"

namespace lampload::test {

/// Into the place's own library. parameters: in the order of the family's table.
void store_lamp(const Workplace& place, const std::string& name, const std::string& family, const std::string& load_law,
                const std::vector<double>& parameters);

}  // namespace lampload::test
