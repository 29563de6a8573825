#include "pulses.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "burning.hpp"
#include "signal/levels.hpp"
#include "signal/statistics.hpp"

namespace evenstroke::pressure {

namespace {

/// Share of the height at which a pulse begins, and below which it has ended: a leaking cylinder's
/// compression reaches a fifth of what it reaches when it fires.
constexpr double begin_ratio = 0.125, end_ratio = 0.08;
/// … and this many times the noise of what is looked at.
constexpr double begin_in_noise = 6;
/// Share of its own height at which a pulse has its foot.
constexpr double foot_ratio = 0.125;
/// A pulse stands this many times the noise above the rest, or there is none.
constexpr double least_height_in_noise = 12;
/// The pulses are looked for in means over this time: at 600 rpm a pulse is 10 ms wide at half height.
constexpr double look_s = 1e-3;
/// The top is what lies above this share of the height, and at least so many samples.
constexpr double top_ratio = 0.80;
constexpr std::size_t fewest_top = 7;

struct Looked {
    std::vector<float> values;
    std::size_t block = 1;
};

Looked look_values(std::span<const float> values, double rate_hz) {
    Looked out;
    out.block = std::max<std::size_t>(1, static_cast<std::size_t>(std::lround(look_s * rate_hz)));
    out.values.reserve(values.size() / out.block + 1);
    for (std::size_t i = 0; i + out.block <= values.size(); i += out.block) {
        double sum = 0;
        for (std::size_t k = 0; k < out.block; ++k) sum += values[i + k];
        out.values.push_back(static_cast<float>(sum / static_cast<double>(out.block)));
    }
    return out;
}

/// Sd of one sample from second differences, which a smooth signal hardly touches.
double noise_of(std::span<const float> values) {
    std::vector<double> steps;
    const std::size_t stride = std::max<std::size_t>(1, values.size() / 20000);
    for (std::size_t i = 1; i + 1 < values.size(); i += stride)
        steps.push_back(std::abs(static_cast<double>(values[i - 1]) - 2.0 * static_cast<double>(values[i]) +
                                 static_cast<double>(values[i + 1])));
    constexpr double sd_of_median = 1.4826, second_difference = 2.449489742783178;  // sqrt(6)
    return steps.empty() ? 0 : signal::median(std::move(steps)) * sd_of_median / second_difference;
}

std::optional<double> crossing(std::span<const float> values, std::size_t from, int step, double level) {
    auto i = static_cast<std::ptrdiff_t>(from);
    const auto last = static_cast<std::ptrdiff_t>(values.size()) - 1;
    while (i + step >= 0 && i + step <= last) {
        const auto here = static_cast<double>(values[static_cast<std::size_t>(i)]);
        const auto next = static_cast<double>(values[static_cast<std::size_t>(i + step)]);
        if (next < level)
            return static_cast<double>(i) + step * (here - level) / std::max(here - next, 1e-12);
        i += step;
    }
    return std::nullopt;
}

struct Frame {
    double rate_hz = 0;
    double start_s = 0;
    double rest = 0;  ///< reading between the strokes
    double ambient_kpa = 0;
};

/// The pulse whose highest looked-at value is `top`; empty when its rise or its top is not in the recording.
std::optional<RoughPulse> pulse_at(std::span<const float> values, const Looked& look, std::size_t top,
                                   const Frame& frame) {
    const std::size_t middle = std::min(top * look.block + look.block / 2, values.size() - 1);
    const double peak = look.values[top];
    const double half = (frame.rest + peak) / 2;
    const auto rise = crossing(look.values, top, -1, half);
    if (!rise || top == 0 || top + 2 >= look.values.size()) return std::nullopt;
    const auto fall = crossing(look.values, top, 1, half);
    const auto foot = crossing(look.values, top, 1, frame.rest + foot_ratio * (peak - frame.rest));
    const auto vertex =
        top_of(values, frame.rate_hz, frame.start_s, middle, frame.rest + top_ratio * (peak - frame.rest));
    const auto samples = [&](double at) { return (at + 0.5) * static_cast<double>(look.block); };
    const auto when = [&](double at) { return frame.start_s + samples(at) / frame.rate_hz; };
    RoughPulse pulse;
    pulse.peak_s = vertex ? vertex->time_s : frame.start_s + static_cast<double>(middle) / frame.rate_hz;
    pulse.peak = vertex ? vertex->value : peak;
    pulse.rise_s = when(*rise);
    if (fall) pulse.fall_s = when(*fall);
    if (foot) pulse.foot_s = when(*foot);
    pulse.whole = fall.has_value();
    if (fall)
        pulse.heated = heated_ratio(values, frame.ambient_kpa - frame.rest, frame.ambient_kpa,
                                    {middle, samples(*fall) - samples(*rise)});
    return pulse;
}

}  // namespace

std::optional<Vertex> top_of(std::span<const float> values, double rate_hz, double start_s,
                             std::size_t middle, double floor) {
    std::size_t first = middle, last = middle;
    while (first > 0 && static_cast<double>(values[first - 1]) >= floor) --first;
    while (last + 1 < values.size() && static_cast<double>(values[last + 1]) >= floor) ++last;
    const std::size_t count = last - first + 1;
    if (count < fewest_top) return std::nullopt;
    constexpr int terms = 5;
    const double centre = (static_cast<double>(first) + static_cast<double>(last)) / 2;
    const double half = static_cast<double>(count) / 2;
    Eigen::Matrix<double, terms, terms> normal = Eigen::Matrix<double, terms, terms>::Zero();
    Eigen::Matrix<double, terms, 1> right = Eigen::Matrix<double, terms, 1>::Zero();
    for (std::size_t i = first; i <= last; ++i) {
        const double x = (static_cast<double>(i) - centre) / half;
        Eigen::Matrix<double, terms, 1> row;
        row << 1, x, x * x, x * x * x, x * x * x * x;
        normal += row * row.transpose();
        right += row * static_cast<double>(values[i]);
    }
    const Eigen::Matrix<double, terms, 1> c = normal.ldlt().solve(right);
    double x = (static_cast<double>(middle) - centre) / half;
    for (int i = 0; i < 20; ++i) {
        const double slope = c[1] + x * (2 * c[2] + x * (3 * c[3] + x * 4 * c[4]));
        const double bend = 2 * c[2] + x * (6 * c[3] + x * 12 * c[4]);
        if (!(bend < 0)) return std::nullopt;
        x -= slope / bend;
        if (!(std::abs(x) <= 1)) return std::nullopt;
    }
    return Vertex{start_s + (centre + x * half) / rate_hz,
                  c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * c[4])))};
}

PulseTrain find_pulses(std::span<const float> values, double rate_hz, double start_s, double ambient_kpa) {
    PulseTrain train;
    if (values.size() < 16 || !(rate_hz > 0)) return train;
    train.noise = noise_of(values);
    const Looked look = look_values(values, rate_hz);
    if (look.values.size() < 8) return train;
    train.rest = signal::quantile(look.values, 0.5);
    train.high = *std::max_element(look.values.begin(), look.values.end());
    const double low = signal::quantile(look.values, 0.25);
    const double height = train.high - train.rest;
    const double spread = train.rest - low;
    const double look_noise = train.noise / std::sqrt(static_cast<double>(look.block));
    if (!(height > least_height_in_noise * look_noise) || !(height > 3 * spread)) return train;
    const double begin = train.rest + std::max(begin_ratio * height, begin_in_noise * look_noise);
    const double end = train.rest + end_ratio * height;
    for (std::size_t i = 0; i < look.values.size();) {
        if (static_cast<double>(look.values[i]) < begin) {
            ++i;
            continue;
        }
        std::size_t j = i, top = i;
        while (j < look.values.size() && static_cast<double>(look.values[j]) >= end) {
            if (look.values[j] > look.values[top]) top = j;
            ++j;
        }
        if (const auto pulse = pulse_at(values, look, top, {rate_hz, start_s, train.rest, ambient_kpa}))
            train.pulses.push_back(*pulse);
        i = j;
    }
    std::vector<double> gaps;
    for (std::size_t i = 1; i < train.pulses.size(); ++i)
        gaps.push_back(train.pulses[i].peak_s - train.pulses[i - 1].peak_s);
    if (!gaps.empty()) train.period_s = signal::median(gaps);
    return train;
}

}  // namespace evenstroke::pressure
