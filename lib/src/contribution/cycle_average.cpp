#include "cycle_average.hpp"
#include "signal/interpolate.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

namespace evenstroke::contribution {

double PhaseMap::phase(double time_s) const {
    const std::size_t low = signal::stretch_of(knots_s, time_s);
    return static_cast<double>(low) + (time_s - knots_s[low]) / (knots_s[low + 1] - knots_s[low]);
}

double PhaseMap::time_s(double phase) const {
    auto low = static_cast<std::ptrdiff_t>(std::floor(phase));
    low = std::clamp<std::ptrdiff_t>(low, 0, static_cast<std::ptrdiff_t>(knots_s.size()) - 2);
    const auto at = static_cast<std::size_t>(low);
    return knots_s[at] + (phase - static_cast<double>(low)) * (knots_s[at + 1] - knots_s[at]);
}

namespace {

/// Time of `angle_deg`; beyond the knots at the mean pace of the nearest cycle.
double time_at(const CrankAngle& angle, double wanted_deg) {
    const auto& deg = angle.angle_deg;
    const auto line = [&](std::size_t a, std::size_t b, std::size_t from) {
        const double pace = (angle.time_s[b] - angle.time_s[a]) / (deg[b] - deg[a]);
        return angle.time_s[from] + (wanted_deg - deg[from]) * pace;
    };
    if (wanted_deg < deg.front()) {
        const auto far = static_cast<std::size_t>(
            std::lower_bound(deg.begin(), deg.end() - 1, deg[0] + cycle_deg) - deg.begin());
        return line(0, std::max<std::size_t>(far, 1), 0);
    }
    if (wanted_deg < deg.back()) {
        const std::size_t knot = signal::stretch_of(deg, wanted_deg);
        return line(knot, knot + 1, knot);
    }
    const auto far = static_cast<std::size_t>(
        std::upper_bound(deg.begin(), deg.end(), deg.back() - cycle_deg + 1e-6) - deg.begin());
    return line(far > 0 ? far - 1 : 0, deg.size() - 1, deg.size() - 1);
}

}  // namespace

std::optional<PhaseMap> phase_map(const CrankAngle& angle) {
    if (angle.time_s.size() < 2 || angle.time_s.size() != angle.angle_deg.size()) return std::nullopt;
    PhaseMap map;
    const double reach = cycle_deg / 2;
    const double first = std::ceil((angle.angle_deg.front() - reach) / cycle_deg) * cycle_deg;
    for (double mark = first; mark <= angle.angle_deg.back() + reach; mark += cycle_deg)
        map.knots_s.push_back(time_at(angle, mark));
    if (map.knots_s.size() < 2) return std::nullopt;
    return map;
}

double slow_rms(const Eigen::ArrayXd& around_cycle) {
    const Eigen::Index n = around_cycle.size();
    const auto reach = static_cast<Eigen::Index>(slow_reach_deg / cycle_deg * static_cast<double>(n));
    double square = 0;
    for (Eigen::Index k = 0; k < n; ++k) {
        double sum = 0;
        for (Eigen::Index d = -reach; d <= reach; ++d) sum += around_cycle[(k + d + n) % n];
        square += std::pow(sum / static_cast<double>(2 * reach + 1), 2);
    }
    return std::sqrt(square / static_cast<double>(n));
}

double at_share(const Eigen::ArrayXd& cycle, double share) {
    // A trial of a fit may run off to no number; its cost is none either then, and the trial ends.
    if (!std::isfinite(share)) return std::numeric_limits<double>::quiet_NaN();
    const double place = (share - std::floor(share)) * static_cast<double>(cycle.size());
    const auto low = static_cast<Eigen::Index>(place) % cycle.size();
    const double part = place - std::floor(place);
    return cycle[low] * (1 - part) + cycle[(low + 1) % cycle.size()] * part;
}

namespace {

/// Sums by place; empty places are bridged linearly around the circle. Returns the widest gap in places.
struct Bins {
    Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(fold_places);
    Eigen::ArrayXd weight = Eigen::ArrayXd::Zero(fold_places);

    /// A sample between two places counts for both, by nearness: the mean at a place is centred on it.
    void add(double share, double value) {
        const double place = (share - std::floor(share)) * fold_places;
        const auto low = static_cast<Eigen::Index>(place) % fold_places;
        const double part = place - std::floor(place);
        sum[low] += (1 - part) * value;
        weight[low] += 1 - part;
        sum[(low + 1) % fold_places] += part * value;
        weight[(low + 1) % fold_places] += part;
    }

    int bridge(Eigen::ArrayXd& mean) const {
        std::vector<Eigen::Index> full;
        for (Eigen::Index k = 0; k < fold_places; ++k)
            if (weight[k] > 1e-9) full.push_back(k);
        mean = Eigen::ArrayXd::Constant(fold_places, std::numeric_limits<double>::quiet_NaN());
        if (full.empty()) return fold_places;
        Eigen::Index widest = 0;
        for (std::size_t k = 0; k < full.size(); ++k) {
            const Eigen::Index from = full[k];
            const Eigen::Index to = k + 1 < full.size() ? full[k + 1] : full[0] + fold_places;
            const double low = sum[from] / weight[from];
            const double high = sum[to % fold_places] / weight[to % fold_places];
            for (Eigen::Index p = from; p < to; ++p)
                mean[p % fold_places] =
                    low + (high - low) * static_cast<double>(p - from) / static_cast<double>(to - from);
            widest = std::max(widest, to - from - 1);
        }
        return static_cast<int>(widest);
    }
};

/// Mean of the load over exactly one period around each sample, linear beyond the first and last full window.
std::vector<double> drift_of(const LoadSamples& samples, std::size_t first, std::size_t last,
                             double period_s) {
    const std::size_t count = last - first;
    std::vector<double> integral(count, 0.0);
    for (std::size_t k = 1; k < count; ++k)
        integral[k] = integral[k - 1] + 0.5 * (samples.load[first + k] + samples.load[first + k - 1]) *
                                            (samples.time_s[first + k] - samples.time_s[first + k - 1]);
    const std::span<const double> times = std::span(samples.time_s).subspan(first, count);
    const auto integral_at = [&](double time_s) {
        const std::size_t k = signal::stretch_of(times, time_s);
        return integral[k] +
               (integral[k + 1] - integral[k]) * (time_s - times[k]) / (times[k + 1] - times[k]);
    };
    const double begin_s = samples.time_s[first] + period_s / 2;
    const double end_s = samples.time_s[last - 1] - period_s / 2;
    const auto window = [&](double t) {
        return (integral_at(t + period_s / 2) - integral_at(t - period_s / 2)) / period_s;
    };
    std::vector<double> drift(count);
    if (end_s <= begin_s) {
        std::fill(drift.begin(), drift.end(), window((begin_s + end_s) / 2));
        return drift;
    }
    // Coarse nodes are enough: the moving mean is smooth.
    const int nodes = std::max(2, static_cast<int>((end_s - begin_s) / period_s * 32) + 1);
    std::vector<double> node(static_cast<std::size_t>(nodes));
    for (int k = 0; k < nodes; ++k)
        node[static_cast<std::size_t>(k)] = window(begin_s + (end_s - begin_s) * k / (nodes - 1));
    const double slope = (node.back() - node.front()) / (end_s - begin_s);
    for (std::size_t k = 0; k < count; ++k) {
        const double t = samples.time_s[first + k];
        if (t <= begin_s) {
            drift[k] = node.front() + slope * (t - begin_s);
        } else if (t >= end_s) {
            drift[k] = node.back() + slope * (t - end_s);
        } else {
            const double place = (t - begin_s) / (end_s - begin_s) * (nodes - 1);
            const auto low = std::min(static_cast<std::size_t>(place), node.size() - 2);
            const double part = place - static_cast<double>(low);
            drift[k] = node[low] * (1 - part) + node[low + 1] * part;
        }
    }
    return drift;
}

}  // namespace

CycleAverage fold(const LoadSamples& samples, const PhaseMap& phases, double from_s, double to_s) {
    CycleAverage out;
    const auto begin = samples.time_s.begin();
    const auto first =
        static_cast<std::size_t>(std::lower_bound(begin, samples.time_s.end(), from_s) - begin);
    const auto last = static_cast<std::size_t>(std::upper_bound(begin, samples.time_s.end(), to_s) - begin);
    if (last < first + 2) return out;
    out.first_phase = phases.phase(samples.time_s[first]);
    const double last_phase = phases.phase(samples.time_s[last - 1]);
    out.span_cycles = last_phase - out.first_phase;
    if (!(out.span_cycles > 1)) return out;
    const int whole = static_cast<int>(out.span_cycles + 1e-6);
    out.period_s = (phases.time_s(out.first_phase + whole) - phases.time_s(out.first_phase)) / whole;
    for (int k = 0; k < whole; ++k)
        out.periods_s.push_back(phases.time_s(out.first_phase + k + 1) - phases.time_s(out.first_phase + k));

    const std::vector<double> drift = drift_of(samples, first, last, out.period_s);
    double centre = 0;
    for (const double d : drift) centre += d;
    centre /= static_cast<double>(drift.size());
    Bins all;
    std::vector<std::pair<double, int>> level(static_cast<std::size_t>(whole));
    std::vector<Bins> each(static_cast<std::size_t>(whole));
    for (std::size_t k = first; k < last; ++k) {
        if (!samples.usable[k]) continue;
        const double phase = phases.phase(samples.time_s[k]);
        const double value = samples.load[k] - drift[k - first] + centre;
        all.add(phase, value);
        const auto cycle = static_cast<std::size_t>(std::max(0.0, phase - out.first_phase));
        if (cycle >= each.size()) continue;
        each[cycle].add(phase, value);
        level[cycle].first += drift[k - first];
        ++level[cycle].second;
    }
    for (const auto& [sum, samples_in] : level)
        out.levels.push_back(samples_in > 0 ? sum / samples_in : centre);
    out.widest_gap = static_cast<double>(all.bridge(out.mean)) / fold_places;
    out.cycles.resize(whole, fold_places);
    for (int k = 0; k < whole; ++k) {
        Eigen::ArrayXd one;
        each[static_cast<std::size_t>(k)].bridge(one);
        out.cycles.row(k) = one.transpose();
    }
    return out;
}

}  // namespace evenstroke::contribution
