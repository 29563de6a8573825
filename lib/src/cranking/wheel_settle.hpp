// How fast a wheel's teeth pass, and from where on that stays level. Private to the library.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "wheel_bursts.hpp"

namespace evenstroke::cranking {

/// Rates are counted over this time: about a turn, so that gaps and compressions average out.
inline constexpr double rate_window_s = 0.4;
/// Speed has settled when it stays level for this time, or, at the end of a short recording, for the lesser
/// one.
inline constexpr double settled_for_s = 0.5;
inline constexpr double settled_at_least_s = 0.25;

/// Teeth a second over the window before each tooth.
struct ToothRates {
    bool whole_turns = false;      ///< the window is one turn or one cycle
    std::vector<double> per_s;     ///< 0 while there is no window yet
    std::vector<double> window_s;  ///< how long it is
};

/// Rates over windows of a cycle or a turn where `options` tell its teeth, else of `rate_window_s`.
[[nodiscard]] ToothRates rates_of(const ToothTimes& times, const LocateOptions& options);

/// The first tooth from which the rate stays level, and that level.
struct SteadyRate {
    std::size_t tooth = 0;
    double rate = 0;
};

/// Empty when the rate never settles.
[[nodiscard]] std::optional<SteadyRate> first_level(const ToothTimes& times, const ToothRates& rates);

/// Rates over whole turns or cycles, and from where on they stay level.
struct SlowTurns {
    ToothRates rates;
    SteadyRate level;
};

/// Where `rates` are counted over less than a turn, and a gap shows how many teeth make one: after every
/// compression the crank may then surge for longer than they are counted. Empty elsewhere.
[[nodiscard]] std::optional<SlowTurns> slow_turns(const ToothTimes& times, const ToothRates& rates);

}  // namespace evenstroke::cranking
