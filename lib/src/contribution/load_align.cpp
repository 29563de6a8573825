#include "load_align.hpp"

#include <algorithm>
#include <cmath>

#include "gas_torque.hpp"

namespace evenstroke::contribution {

namespace {

/// Places of TDC that are tried when an odd-firing engine has no reference.
constexpr int most_places_tried = 3;

/// Mechanical time constant that lead compensation assumes: 0.05 to 0.3 s is what starters and engines make.
constexpr double usual_time_constant_s = 0.12;
constexpr double usual_ratio = 10;
/// Places of TDC nearer than this are one.
constexpr double near_place_deg = 10;

/// Load torque of a healthy engine at whole degrees, no leak, even speed; mean removed.
Eigen::ArrayXd healthy_pattern(const EngineLayout& layout) {
    const GasTable one = gas_table({.compression_ratio = usual_ratio});
    Eigen::ArrayXd pattern = Eigen::ArrayXd::Zero(static_cast<Eigen::Index>(cycle_deg));
    for (const double firing : layout.firing_tdc_deg())
        for (Eigen::Index d = 0; d < pattern.size(); ++d) {
            const double angle = static_cast<double>(d) - firing + 2 * cycle_deg;
            const std::size_t node = one.grid.wrapped(static_cast<int>(angle / one.grid.step_deg()));
            const double open = one.open[node];
            if (open >= 0 && open < 1) pattern[d] -= (one.pressure[node] - 1) * (1 - open) * one.slope[node];
        }
    return pattern - pattern.mean();
}

/// Load + time constant x rate of the load: what the crank asked for before inertia smoothed it.
Eigen::ArrayXd lead_compensated(const Eigen::ArrayXd& load, double period_s) {
    const Eigen::Index n = load.size();
    const Eigen::Index reach = n / 180;
    Eigen::ArrayXd out(n);
    for (Eigen::Index k = 0; k < n; ++k) {
        const double rate = (load[(k + reach) % n] - load[(k - reach + n) % n]) /
                            (2 * static_cast<double>(reach) / static_cast<double>(n) * period_s);
        out[k] = load[k] + usual_time_constant_s * rate;
    }
    return out - out.mean();
}

}  // namespace

std::vector<double> tdc_candidates_deg(const Eigen::ArrayXd& load, double period_s,
                                       const EngineLayout& layout) {
    const Eigen::ArrayXd pattern = healthy_pattern(layout);
    const Eigen::ArrayXd wanted = lead_compensated(load, period_s);
    const Eigen::Index n = pattern.size();
    const bool even = layout.fires_evenly();
    Eigen::ArrayXd match(n);
    for (Eigen::Index shift = 0; shift < n; ++shift) {
        double sum = 0;
        for (Eigen::Index d = 0; d < n; ++d)
            sum += pattern[d] * wanted[((d + shift) % n) * wanted.size() / n];
        match[shift] = sum;
    }
    std::vector<Eigen::Index> tops;
    for (Eigen::Index k = 0; k < n; ++k)
        if (match[k] >= match[(k + 1) % n] && match[k] > match[(k + n - 1) % n] && match[k] > 0)
            tops.push_back(k);
    std::sort(tops.begin(), tops.end(), [&](Eigen::Index a, Eigen::Index b) { return match[a] > match[b]; });
    // Where the same intervals come again is the same place: which of its firings is called the first means
    // nothing without a reference.
    const double repeat_deg = cycle_deg * layout.repeats_after() / layout.cylinders();
    std::vector<double> out;
    for (const Eigen::Index top : tops) {
        const double deg = static_cast<double>(top);
        const auto same = [&](double other) {
            return std::abs(std::remainder(other - deg, repeat_deg)) < near_place_deg;
        };
        if (std::any_of(out.begin(), out.end(), same)) continue;
        out.push_back(even ? std::remainder(deg, repeat_deg)
                           : deg - std::floor(deg / repeat_deg) * repeat_deg);
        if (even || static_cast<int>(out.size()) >= most_places_tried) break;
    }
    return out;
}

}  // namespace evenstroke::contribution
