// The groups of cases, one file an idea, and the readings that several of them share.
#pragma once

#include <vector>

#include "support/vignettes.hpp"

namespace evenstroke::test {

inline constexpr const char* even_dry = "dry,psi,,150,148,149,150\n";
inline constexpr const char* weak_3 = "dry,psi,,150,150,70,148\n";
inline constexpr const char* all_below_100 = "dry,psi,,80,82,79,81\n";

[[nodiscard]] std::vector<Vignette> from_recordings();
[[nodiscard]] std::vector<Vignette> from_the_gauge();
[[nodiscard]] std::vector<Vignette> in_the_block();
[[nodiscard]] std::vector<Vignette> puffs_and_oil();
[[nodiscard]] std::vector<Vignette> from_leak_down();
[[nodiscard]] std::vector<Vignette> battery_and_starter();
[[nodiscard]] std::vector<Vignette> from_vacuum();
[[nodiscard]] std::vector<Vignette> from_oil();

}  // namespace evenstroke::test
