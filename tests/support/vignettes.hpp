// Cases for the rules: evidence, and what must be made of it.
#pragma once

#include <string>
#include <vector>

#include "evenstroke/followup.hpp"

namespace evenstroke::test {

struct Vignette {
    std::string name;
    Evidence evidence;
    FollowUpOutcome outcome;
    std::vector<std::string> codes;  ///< findings that must be there
    std::vector<std::string> not_codes;
    std::vector<std::string> pointed_at;    ///< "3 exhaust-valve", "engine battery": exactly these
    std::string next;                       ///< the first test to make; empty: not asked
    std::vector<std::string> open = {};     ///< "3 rings": at least these are possible still
    std::vector<std::string> removed = {};  ///< at least these were taken off
    std::vector<std::string> by = {};  ///< "3 carbon by reads-high": at least these findings are behind it
};

/// All of them (tests/vignettes/). Sources stand beside each group.
[[nodiscard]] std::vector<Vignette> vignettes();

/// A worksheet of cylinders 1 to 4 from rows such as "dry,psi,,150,150,70,148".
[[nodiscard]] Worksheet sheet(const std::string& rows);
/// A recording of an in-line four, firing order 1-3-4-2, named, contributions by cylinder number.
[[nodiscard]] RecordedEngine recording(const std::vector<double>& contribution_pct,
                                       const std::string& path = "first.csv");
/// What does not hold of a vignette under these rules; empty when all does.
[[nodiscard]] std::string wrong(const Vignette& v, std::span<const Rule> table);

}  // namespace evenstroke::test
