// One cylinder's pressure as it is being judged: what the rules look at, and what they have said.
#pragma once

#include <string>
#include <vector>

#include "evenstroke/findings.hpp"

namespace evenstroke::findings {

/// References outlive it.
struct PressureContext {
    const Pressure& p;
    const PressureOptions& options;
    PressureFindings out;
    bool timed = false;           ///< a valve event is out of time
    bool look_again = false;      ///< the same recording tells more with more options
    bool low_first_puff = false;  ///< a gauge builds up from a low first puff

    void finding(const char* code, std::string text, std::vector<std::string> evidence = {});
    /// Suggests this row of the tests (test_table.hpp).
    void test(const char* key);
    void inconclusive(const std::string& reason);
    /// A gauge pressure as it would be at sea level, where the height is known; in proportion to the air's
    /// pressure.
    [[nodiscard]] double at_sea(double gauge_pressure) const;
};

/// A gauge with fewer puffs has not built up (common practice, no published source).
inline constexpr int fewest_puffs = 4;
/// A throttle that is not open shows as an intake plateau this far below the exhaust's.
inline constexpr double throttled_kpa = 12;

/// A gauge whose check valve holds the peak.
void judge_gauge(PressureContext& c);
/// A cylinder that is cranked or motored.
void judge_motored(PressureContext& c);
/// Whether most of the charge is lost, whatever the fit makes of it; then the outcome is set.
[[nodiscard]] bool judge_lost_charge(PressureContext& c);
/// What to test next, from the outcome.
void suggest_tests(PressureContext& c);

}  // namespace evenstroke::findings
