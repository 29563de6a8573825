// Marks between the thousands of numbers, which look like decimal marks.
#pragma once

#include <string>
#include <vector>

#include "read/columns.hpp"

namespace evenstroke::reading {

/// Refuses a column whose marks can only part thousands: three digits behind every mark, none led by a zero,
/// and whole numbers below a thousand beside them. `name` stands for the file.
void refuse_thousands(const std::vector<HeadLine>& lines, const RowBlock& block, const std::string& name);

}  // namespace evenstroke::reading
