#pragma once
// Parts of the circuit that a family knows and most lamps do without (ParameterSpec::part): tried only where the
// residuals ask for them.

#include "fit/family_search.h"

namespace lampload {

/// Does the family's table have parts?
bool knows_parts(const FamilyInfo& family);

/// The solution with the parts that pay, and without what only stood in for them; as it is where none does. Each part
/// is first asked for by the score test (C. R. Rao, Proc. Camb. Phil. Soc. 44 (1948) 50; from memory): how far the
/// residuals would fall, to first order, if it were there. That costs a few evaluations; nothing is solved where they
/// promise little.
Refined with_optional_parts(Refined solution);

/// What came of trying parts on one solution, told of another one of the same front end.
void tell_of_parts(const Refined& tried, Refined& other);

}  // namespace lampload
