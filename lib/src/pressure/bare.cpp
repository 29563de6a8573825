#include "bare.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "signal/levels.hpp"
#include "signal/statistics.hpp"
#include "strokes.hpp"

namespace evenstroke::pressure {

namespace {

/// The expansion, up to where the exhaust valve has opened wide.
constexpr Part expansion{0.05, 0.25};

}  // namespace

std::optional<BarePressure> bare_pressure(const PulseTrain& train, const Pressure& p) {
    if (!train.period_s) return std::nullopt;
    std::vector<double> peak, undershoot, drop, level;
    for (const RoughPulse& pulse : train.pulses) {
        const auto sample = [&](double cycles) {
            return (pulse.peak_s + cycles * *train.period_s - p.start_s) * p.rate_hz;
        };
        if (!pulse.whole || sample(intake_stroke.first) < 0 ||
            sample(exhaust_stroke.last) >= static_cast<double>(p.kpa.size()))
            continue;
        const auto quantile = [&](Part part, double share) {
            return signal::quantile({p.kpa.begin() + static_cast<std::ptrdiff_t>(sample(part.first)),
                                     p.kpa.begin() + static_cast<std::ptrdiff_t>(sample(part.last))},
                                    share);
        };
        constexpr double middle = 0.5, trough = 0.1;  // a tenth: noise reaches lower
        const double out = quantile(exhaust_stroke, middle);
        const double height = pulse.peak - out;
        if (!(height > 0)) continue;
        level.push_back(out);
        peak.push_back(height);
        undershoot.push_back((out - quantile(expansion, trough)) / height);
        drop.push_back(out - quantile(intake_stroke, middle));
    }
    if (peak.empty()) return std::nullopt;
    const double zero = p.gauge ? 0 : p.ambient_kpa;
    return BarePressure{peak.size(), signal::median(peak), signal::median(undershoot), signal::median(drop),
                        signal::median(level) - zero};
}

}  // namespace evenstroke::pressure
